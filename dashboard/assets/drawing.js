/* Puts what the server made as text, drawings and still parts of a page, in their places. */
(function () {
  "use strict";
  function show(place, text) {
    if (place.drawnFrom === text) { return; }
    var held = place.contains(document.activeElement) && document.activeElement.getAttribute("href");
    place.drawnFrom = text;
    place.innerHTML = text;
    var again = held && place.querySelector('[href="' + window.CSS.escape(held) + '"]');
    if (again) { again.focus({ preventScroll: true }); }
  }
  function draw() {
    document.querySelectorAll("[data-svg], [data-still]").forEach(function (place) {
      show(place, place.getAttribute("data-svg") || place.getAttribute("data-still"));
    });
  }
  new MutationObserver(draw).observe(document.documentElement, {
    childList: true, subtree: true, attributes: true, attributeFilter: ["data-svg", "data-still"]
  });
})();
