"""The database's revisions, run one after the other; one that has landed is never changed."""
