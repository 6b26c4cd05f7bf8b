// Set the room before anything is painted; this file is loaded without defer on purpose.
(() => {
  try {
    const room = localStorage.getItem("room");
    if (room === "dark" || room === "light") document.documentElement.dataset.room = room;
  } catch {
    // Without storage the system's own choice holds.
  }
})();
