/* The browser's side of the shell: lost contact, where we are, arriving at a page. */
(function () {
  "use strict";
  var LOST_AFTER_S = 6; // three pings
  var lastContact = Date.now();
  var lastPong;
  var lastPath = null;

  function moveTo(href) {
    // As the router's own links do, so that a plain link in a large table costs no reload.
    focused = null;
    window.history.pushState({}, "", href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    window.scrollTo(0, 0);
  }

  function isPlainClick(event) {
    return event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey && !event.altKey;
  }

  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("[data-still] a");
    if (link && isPlainClick(event)) {
      event.preventDefault();
      moveTo(link.getAttribute("href"));
    }
  });

  // A form keeps nothing before its end, and another unit draws the page anew.
  var typed = new Set();
  document.addEventListener("input", function (event) {
    if (event.target.closest(".form")) { typed.add(event.target); }
  });

  function mayDrawAnew() {
    var held = Array.from(typed).some(function (field) { return field.isConnected && field.offsetParent && field.value; });
    return !(held || document.querySelector(".confirm")) ||
      window.confirm("The other unit draws this page anew, and what is typed here is lost. Switch all the same?");
  }

  function settle(path) {
    // After a link was followed: the named place, else the top of the content, gets the focus.
    var wanted = window.location.hash.slice(1);
    var place = (wanted && document.getElementById(decodeURIComponent(wanted))) || document.getElementById("content");
    if (place && path !== lastPath && lastPath !== null) {
      place.focus({ preventScroll: !wanted });
      if (wanted) { place.scrollIntoView(); }
    } else if (wanted && place && lastPath === null) {
      place.scrollIntoView();
    }
    lastPath = path;
  }

  // A page drawn anew makes its elements anew: give the focus back to the one that had it.
  var focused = null; // its id, or for a link of a still part its address
  var STILL_LINK = "[data-still] a[href]";
  document.addEventListener("focusin", function (event) {
    var link = event.target.matches(STILL_LINK);
    focused = link ? event.target.getAttribute("href") : event.target.id || null;
  });
  function same() {
    return document.getElementById(focused) || Array.from(document.querySelectorAll(STILL_LINK)).find(function (link) {
      return link.getAttribute("href") === focused;
    });
  }
  document.addEventListener("pointerdown", function (event) {
    if (!event.target.closest || !event.target.closest("a, button, input, select, textarea, [tabindex]")) { focused = null; }
  });
  new MutationObserver(function () {
    var lost = document.activeElement === document.body || document.activeElement === null;
    var again = lost && focused && same();
    if (again) { again.focus({ preventScroll: true }); }
  }).observe(document.documentElement, { childList: true, subtree: true });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    shell: {
      contact: function (second, pong) {
        if (pong !== lastPong) { lastPong = pong; lastContact = Date.now(); }
        var silent = Math.round((Date.now() - lastContact) / 1000);
        var counter = document.getElementById("contact-seconds");
        if (counter) { counter.textContent = String(silent); }
        return silent < LOST_AFTER_S;
      },
      here: function (path) {
        document.querySelectorAll("#pages a").forEach(function (link) {
          var href = link.getAttribute("href");
          if (href === path) {
            link.setAttribute("aria-current", "page");
          } else if (href !== "/" && path.indexOf(href + "/") === 0) {
            link.setAttribute("aria-current", "true"); // a screen within that page
          } else {
            link.removeAttribute("aria-current");
          }
        });
        return path;
      },
      other_unit: function (clicks, unit, usual) {
        if (!mayDrawAnew()) { return window.dash_clientside.no_update; }
        var other = (unit || usual) === "in" ? "mm" : "in";
        document.cookie = "unit=" + other + "; path=/; max-age=31536000; samesite=lax";
        return other;
      },
      unit_named: function (unit, usual) {
        return (unit || usual) === "in" ? "Millimetres" : "Inches";
      },
      look_again: function (position, drawn) {
        if (!position || !drawn) { return window.dash_clientside.no_update; }
        var before = drawn.position;
        var back = typeof before.mark === "string" && typeof position.mark === "number"; // the store's server
        if (back || position.files !== before.files) { window.location.reload(); }
        return window.dash_clientside.no_update;
      },
      arrive: function (data) {
        window.setTimeout(settle, 50, window.location.pathname);
        return data && data.title ? data.title : "";
      }
    }
  });
})();
