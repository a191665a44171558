"use strict";
// The style for sunlight stays as it was chosen on this device, where the browser keeps anything.
(function () {
  const sunlight = document.getElementById("sunlight"), name = "setuplint sunlight";
  try { sunlight.checked = localStorage.getItem(name) === "yes"; } catch { return; }
  sunlight.addEventListener("change", () => { try { localStorage.setItem(name, sunlight.checked ? "yes" : "no"); } catch { /* not kept */ } });
})();
