"""The app: the job in a browser, served to the printmaker's own machine and to nobody else.

Nothing is computed here; every act is a call that a command could make too.
"""
