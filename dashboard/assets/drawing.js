/* Puts the drawings that the server made, as text in data-svg, in their places. */
(function () {
  "use strict";
  function draw() {
    document.querySelectorAll("[data-svg]").forEach(function (place) {
      var svg = place.getAttribute("data-svg");
      if (place.drawnFrom !== svg) { place.drawnFrom = svg; place.innerHTML = svg; }
    });
  }
  new MutationObserver(draw).observe(document.documentElement, {
    childList: true, subtree: true, attributes: true, attributeFilter: ["data-svg"]
  });
})();
