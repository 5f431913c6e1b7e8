/* Sets the colours before the first paint: as last chosen here, else as the computer prefers. */
(function () {
  "use strict";
  var KEY = "mantine-color-scheme-value"; // the component library keeps its own choice under this name
  var root = document.documentElement;
  function kept() {
    try { return window.localStorage.getItem(KEY); } catch (error) { return null; }
  }
  function keep(scheme) {
    try { window.localStorage.setItem(KEY, scheme); } catch (error) { /* private window: for this visit only */ }
  }
  function preferred() {
    return window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }
  var first = kept();
  root.setAttribute("data-mantine-color-scheme", first === "dark" || first === "light" ? first : preferred());
  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest("#theme-toggle");
    if (!button) { return; }
    var next = root.getAttribute("data-mantine-color-scheme") === "dark" ? "light" : "dark";
    root.setAttribute("data-mantine-color-scheme", next);
    keep(next);
  });
})();
