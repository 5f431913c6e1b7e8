/* The browser's side of the Bench page: a field that is never out of reach, an outbox that loses nothing and
   sends nothing twice, keys, and cues for the ear. */
(function () {
  "use strict";
  var ACT = "/bench/act";
  var OUTBOX = "dryfit-bench-outbox";
  var PATIENCE_MS = 5000;
  var RETRY_MS = 1000;
  var OPENING_MS = 1000;
  var REST_MS = 600;
  var WEDGE_MS = 35; // between its keys; people are slower
  var KEYS = "usrapq";
  var state = null;
  var seen = null; // the part and the mark that were shown last, so that only news is heard
  var ageAt = null;
  var skipping = false;
  var sending = false;
  var resting = null;
  var retry = null;
  var typedAt = [];
  var unchosen = null;
  var actedAt = 0;
  var openedAt = window.performance.now();
  var early = []; // keys pressed before there is a field
  var anyKey = false;
  var distrusted = false; // the line under way may lack its beginning: half a number is not taken for a whole one

  function kept(store, name, usual) {
    try { var text = store.getItem(name); return text === null ? usual : JSON.parse(text); } catch (error) { return usual; }
  }
  function keep(store, name, value) {
    try { store.setItem(name, JSON.stringify(value)); } catch (error) { /* private window: for this visit only */ }
  }
  function byId(name) { return document.getElementById(name); }
  function field() { return byId("bench-field"); }
  function token() {
    var bytes = new Uint8Array(12);
    window.crypto.getRandomValues(bytes);
    return Array.from(bytes, function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
  }

  /* --- the field ------------------------------------------------------------------------------------ */

  function build(form) {
    form.innerHTML =
      '<form autocomplete="off"><label id="bench-label" for="bench-field"></label>' +
      '<div class="bench-row"><input id="bench-field" name="reading" type="text" inputmode="decimal" enterkeyhint="send"' +
      ' autocapitalize="off" autocorrect="off" spellcheck="false" aria-describedby="bench-why">' +
      '<button type="submit" class="bench-button">Enter</button></div>' +
      '<p id="bench-why" role="alert"></p><p id="bench-waiting" role="status"></p><p id="bench-done" role="status"></p></form>';
    form.firstChild.addEventListener("submit", function (event) { event.preventDefault(); submit(); });
    var input = field();
    input.value = kept(window.sessionStorage, "dryfit-bench-draft", "");
    input.addEventListener("input", function () { keep(window.sessionStorage, "dryfit-bench-draft", input.value); });
  }

  function name_field() {
    var label = byId("bench-label");
    if (!label || !state) { return; }
    var unit = state.unit === "in" ? "inches" : "mm";
    label.textContent = skipping
      ? "Why skip " + plain(state.place) + "? Enter skips it, Escape does not"
      : "Type a reading, in " + unit + " unless you write a unit; an instrument that types lands here too";
    field().inputMode = skipping ? "text" : "decimal";
    byId("bench-form").classList.toggle("is-skipping", skipping);
  }

  function plain(name) { return name.replace(/-/g, " "); }

  function put(text) {
    field().value = text;
    keep(window.sessionStorage, "dryfit-bench-draft", text);
  }

  function tell(why) {
    var place = byId("bench-why");
    if (place) { place.textContent = why; }
    if (field()) { field().setAttribute("aria-invalid", why ? "true" : "false"); }
  }

  function may_focus() {
    var active = document.activeElement;
    return field() && (!active || active === document.body || active.id === "content") &&
      !window.matchMedia("(pointer: coarse)").matches;
  }

  function take_focus() { if (may_focus()) { field().focus({ preventScroll: true }); } }

  function edits(element) {
    if (!element || element === field()) { return false; }
    return element.isContentEditable || element.tagName === "TEXTAREA" || element.tagName === "SELECT" ||
      (element.tagName === "INPUT" && !element.readOnly);
  }

  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || edits(event.target)) { return; }
    if (!anyKey && event.key.length === 1) {
      anyKey = true;
      distrusted = window.performance.now() - openedAt < OPENING_MS;
    }
    if (!field()) {
      if (opens_bench() && (event.key.length === 1 || event.key === "Enter")) { event.preventDefault(); early.push(event.key); }
      return;
    }
    wake();
    var input = field();
    if (event.key === "Escape") {
      if (skipping || input.value) { skipping = false; put(""); tell(""); name_field(); }
      return;
    }
    if (event.key.length === 1 && event.key !== " ") {
      if (!skipping && !input.value && KEYS.includes(event.key.toLowerCase()) && !event.repeat) {
        event.preventDefault();
        press(event.key.toLowerCase());
        return;
      }
      typedAt.push(event.timeStamp);
      if (input.value === "") { typedAt = [event.timeStamp]; }
      if (document.activeElement !== input) { input.focus({ preventScroll: true }); }
    } else if ((event.key === "Enter" || event.key === "Tab") && document.activeElement === input) {
      if (event.key === "Tab" && !(input.value && by_wedge())) { return; } // some instruments end with Tab
      event.preventDefault();
      submit();
    }
  });

  function opens_bench() {
    return window.location.pathname === "/bench" && /[?&]part=/.test(window.location.search);
  }

  function catch_up() {
    var keys = early;
    early = [];
    keys.forEach(function (key) {
      if (key === "Enter") { submit(); return; }
      if (!field().value && !skipping && KEYS.includes(key.toLowerCase())) { press(key.toLowerCase()); return; }
      put(field().value + key);
    });
  }

  function by_wedge() {
    var gaps = typedAt.slice(1).map(function (at, place) { return at - typedAt[place]; });
    gaps.sort(function (one, other) { return one - other; });
    return gaps.length >= 2 && gaps[Math.floor(gaps.length / 2)] < WEDGE_MS;
  }

  document.addEventListener("focusout", function () { window.setTimeout(take_focus, 0); });
  document.addEventListener("visibilitychange", function () { take_focus(); flush(); });
  window.addEventListener("focus", take_focus);
  window.addEventListener("online", flush);

  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest("[data-act], [data-switch]");
    wake();
    if (!button) { return; }
    if (button.dataset.switch) { toggle(button.dataset.switch); return; }
    once_known(function () { press(button.dataset.act, button.dataset.of); }, 50);
    if (button.dataset.act !== "s" && field() && !window.matchMedia("(pointer: coarse)").matches) {
      field().focus({ preventScroll: true });
    }
  });

  function once_known(act, tries) { // a button can be pressed before the page has said what it is about
    if (state || !byId("bench")) { act(); } else if (tries) { window.setTimeout(once_known, 100, act, tries - 1); }
  }

  /* --- acting --------------------------------------------------------------------------------------- */

  function asked(what) {
    var from = state || {};
    return Object.assign({
      token: token(), build: from.build, part: from.part, by: from.by, bench: from.bench, machine: from.machine,
      model: from.model, unit: from.unit
    }, what);
  }

  // How long ago it was typed, by this browser's own clock: the server's may say another time of day.
  function dated(act) {
    return act.typed ? Object.assign({ ago: Math.max(0, Date.now() - act.typed) }, act) : act;
  }

  function post(act) {
    var stop = new AbortController();
    var timer = window.setTimeout(function () { stop.abort(); }, PATIENCE_MS);
    return window.fetch(ACT, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(dated(act)),
      signal: stop.signal, credentials: "same-origin"
    }).then(function (answer) {
      if (!answer.ok) { throw new Error("status " + answer.status); }
      return answer.json();
    }).finally(function () { window.clearTimeout(timer); });
  }

  function submit() {
    var input = field();
    var text = input.value;
    if (skipping) {
      skipping = false;
      post(asked({ do: "s", text: text })).then(function (answer) {
        if (answer.kind === "refused") { skipping = true; put(text); } // nothing typed is lost
        answered(answer);
      }, no_contact);
      put("");
      name_field();
      return;
    }
    if (!text.trim()) {
      // Not "accept": an instrument may well send two line ends.
      if (byId("bench").dataset.polled) { press("ask"); }
      return;
    }
    if (distrusted) {
      distrusted = false;
      tell("“" + text + "” was typed while the page was opening, so its beginning may be missing: " +
        "Enter takes it as it stands, typing replaces it.");
      cue("unclear");
      input.select();
      return;
    }
    var outbox = kept(window.localStorage, OUTBOX, []);
    outbox.push(asked({
      do: "type", text: text, typed: Date.now(), wedge: by_wedge() ? "yes" : undefined,
      place: outbox.length || sending ? undefined : state.place
    }));
    keep(window.localStorage, OUTBOX, outbox);
    put("");
    typedAt = [];
    tell("");
    flush();
  }

  function flush() {
    if (sending) { return; }
    var outbox = kept(window.localStorage, OUTBOX, []);
    if (!outbox.length && !unchosen) { show("bench-waiting", ""); return; }
    sending = true;
    var act = unchosen || outbox[0];
    post(act).then(function (answer) {
      sending = false;
      if (answer.kind === "later") { later(answer.say); return; }
      if (act === unchosen) { unchosen = null; } else { settled(act, answer); }
      flush();
    }, function () {
      sending = false;
      later("no contact with the server");
    });
  }

  function settled(act, answer) {
    keep(window.localStorage, OUTBOX, kept(window.localStorage, OUTBOX, []).filter(function (item) {
      return item.token !== act.token;
    }));
    if (answer.kind !== "refused") { return; }
    cue("unclear");
    var away = !state || act.part !== state.part || act.build !== state.build;
    var why = "“" + act.text + "” was not stored" + (away ? " for " + act.build + " " + plain(act.part) : "") + ": " + answer.say;
    tell(why);
    if (field() && !field().value && !away) { put(act.text); field().select(); }
  }

  function later(why) {
    var count = kept(window.localStorage, OUTBOX, []).length;
    show("bench-waiting", count ? (count === 1 ? "One reading is" : count + " readings are") +
      " safe in this browser and will be stored by itself: " + why + "." : "");
    window.clearTimeout(retry);
    retry = window.setTimeout(flush, RETRY_MS);
  }

  function show(where, words) {
    var place = byId(where);
    if (place && place.textContent !== words) { place.textContent = words; }
  }

  function press(key, of) {
    if (key === "s") {
      skipping = true;
      tell("");
      name_field();
      field().focus({ preventScroll: true });
      return;
    }
    actedAt = Date.now();
    post(asked({ do: key, of: of })).then(function (answer) {
      answered(answer);
      if (key === "q" && answer.kind === "done") { put_down(); }
    }, no_contact);
  }

  function put_down() {
    window.sessionStorage.removeItem("dryfit-bench-chosen");
    window.history.pushState({}, "", "/bench");
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
  }

  function answered(answer) {
    tell(answer.kind === "refused" || answer.kind === "later" ? answer.say : "");
    show("bench-done", answer.kind === "done" || answer.kind === "nothing" ? sentence(answer.say) : "");
    if (answer.kind === "refused") { cue("unclear"); if (skipping) { name_field(); } }
  }

  function sentence(words) { return words ? words.charAt(0).toUpperCase() + words.slice(1) + "." : ""; }

  function no_contact() {
    tell("No contact with the server: the key was not taken. Press it again once the page is alive.");
    cue("unclear");
  }

  /* --- what the ear hears --------------------------------------------------------------------------- */

  // Told apart by pitch and by rhythm: one high note; two long low ones; four quick ones that wobble.
  var CUES = {
    stored: [[1320, 0, 0.11]],
    outside: [[294, 0, 0.3], [220, 0.42, 0.45]],
    unclear: [[740, 0, 0.06], [620, 0.11, 0.06], [740, 0.22, 0.06], [620, 0.33, 0.06]]
  };
  var SHAKES = { stored: [60], outside: [350, 120, 350], unclear: [70, 60, 70, 60, 70, 60, 70] };
  var sound = null;

  function is_on(name) { return kept(window.localStorage, "dryfit-bench-" + name, name === "sound"); }

  function wake() {
    if (!is_on("sound") || !byId("bench")) { return; }
    try {
      sound = sound || new window.AudioContext();
      if (sound.state === "suspended") { sound.resume(); }
    } catch (error) { sound = null; }
    var asleep = byId("bench-sound-asleep");
    if (asleep) { asleep.hidden = true; }
  }

  function cue(name) {
    document.documentElement.dataset.benchCue = name; // the last one, for whoever looks
    if (!is_on("sound")) { return; }
    if (window.navigator.vibrate) { window.navigator.vibrate(SHAKES[name]); }
    if (!sound || sound.state !== "running") { return; }
    CUES[name].forEach(function (note) {
      var tone = sound.createOscillator();
      var loud = sound.createGain();
      var begin = sound.currentTime + 0.01 + note[1];
      tone.frequency.value = note[0];
      tone.type = name === "outside" ? "square" : "triangle";
      loud.gain.setValueAtTime(0.0001, begin);
      loud.gain.exponentialRampToValueAtTime(name === "outside" ? 0.25 : 0.5, begin + 0.015);
      loud.gain.setValueAtTime(name === "outside" ? 0.25 : 0.5, begin + note[2] - 0.02);
      loud.gain.exponentialRampToValueAtTime(0.0001, begin + note[2]);
      tone.connect(loud).connect(sound.destination);
      tone.start(begin);
      tone.stop(begin + note[2] + 0.02);
    });
  }

  function speak(words) {
    if (!is_on("speech") || !window.speechSynthesis) { return; }
    window.speechSynthesis.cancel();
    var said = new window.SpeechSynthesisUtterance(words);
    said.lang = "en";
    window.speechSynthesis.speak(said);
  }

  function toggle(name) {
    keep(window.localStorage, "dryfit-bench-" + name, !is_on(name));
    show_switches();
    wake();
    if (is_on(name)) { if (name === "sound") { window.setTimeout(cue, 60, "stored"); } else { speak("Spoken verdict on"); } }
  }

  function show_switches() {
    document.querySelectorAll("[data-switch]").forEach(function (button) {
      button.setAttribute("aria-pressed", is_on(button.dataset.switch) ? "true" : "false");
    });
    var asleep = byId("bench-sound-asleep");
    if (asleep) { asleep.hidden = !is_on("sound") || (sound !== null && sound.state === "running"); }
  }

  /* --- what the server says ------------------------------------------------------------------------- */

  // A reading is told of the moment it is stored. It stands over the last one until the page drawn anew, with the
  // verdict, has come to it; so a page that was asked for before it was stored cannot bring back an older number.
  var fresh = null;
  var feed = null;

  function hear_fresh(now) {
    var address = "ws" + window.location.origin.slice(4) + "/bench/feed?" + new URLSearchParams({ build: now.build, part: now.part });
    if (feed && feed.url === address && feed.readyState <= WebSocket.OPEN) { return; }
    if (feed) { feed.close(); }
    feed = new WebSocket(address);
    feed.onmessage = function (event) {
      if (byId("bench-fresh")) { show_fresh(JSON.parse(event.data)); } else { this.close(); }
    };
  }

  function show_fresh(told) {
    fresh = told && state && told.build === state.build && told.part === state.part && told.mark > state.mark ? told : null;
    var place = byId("bench-fresh");
    if (!place) { return; }
    if (fresh) {
      var number = fresh.number[state.unit];
      var words = [fresh.what, fresh.when, number[0], " " + number[1]];
      place.querySelectorAll("span").forEach(function (span, at) { write(span, words[at]); });
      place.querySelector(".bench-number").style.setProperty("--letters", String(number[0].length));
    }
    place.hidden = !fresh;
  }

  function write(span, words) { // into the text that is there: a new one has the whole page looked through
    if (span.firstChild) { span.firstChild.data = words; } else { span.textContent = words; }
  }

  // The chart of the passes is drawn when the hands rest: nothing else moves while a number is read.
  function rest(now) {
    window.clearTimeout(resting);
    resting = window.setTimeout(function () { window.dash_clientside.set_props("bench-rested", { data: now.stand }); }, REST_MS);
  }

  function arrived(now) {
    if (!now) { return ""; }
    var before = state;
    state = now;
    if (before && before.mark !== now.mark) { rest(now); }
    if (before && (before.build !== now.build || before.part !== now.part)) { askedAt = 0; } // of a page that was left
    hear_fresh(now);
    show_fresh(fresh);
    ageAt = now.age === null ? null : Date.now() - 1000 * now.age;
    var form = byId("bench-form");
    if (form && !form.firstChild) { build(form); skipping = false; }
    name_field();
    catch_up();
    show_switches();
    show_age();
    var same = before && seen && seen.part === now.build + "/" + now.part;
    if (same && now.mark > seen.mark && now.cue) {
      cue(now.cue === "doubted" ? "unclear" : now.cue);
      speak(now.said);
      tell("");
      if (Date.now() - actedAt > 2000) { show("bench-done", ""); } // else it tells of this very row
    } else if (same && now.bad > seen.bad) {
      cue("unclear");
      speak("Not understood.");
    }
    seen = { part: now.build + "/" + now.part, mark: now.mark, bad: now.bad };
    choose(now);
    flush();
    take_focus();
    return now.build + "/" + now.part;
  }

  // A part is put to the instrument when a tab arrives at it, not when it reloads or wakes: another bench may
  // have chosen since.
  function choose(now) {
    var here = [now.build, now.part, now.by, now.bench].join("\n");
    if (kept(window.sessionStorage, "dryfit-bench-chosen", "") === here) { return; }
    keep(window.sessionStorage, "dryfit-bench-chosen", here);
    unchosen = asked({ do: "choose" });
  }

  function show_age() {
    var place = byId("bench-age");
    if (!place || ageAt === null) { return; }
    var seconds = Math.max(0, Math.round((Date.now() - ageAt) / 1000));
    place.textContent = seconds < 60 ? seconds + " s ago"
      : seconds < 3600 ? Math.floor(seconds / 60) + " min ago" : Math.floor(seconds / 3600) + " h ago";
  }
  window.setInterval(show_age, 500);

  // One drawing at a time, of what is newest, and then a rest as long as it took: a page that cannot keep up
  // neither lags behind nor keeps the number of a reading waiting.
  var newest = null;
  var askedFor = null;
  var askedAt = 0; // 0 while no drawing is under way
  var restsUntil = 0;
  var drawing = null;

  function ask(position, drawn) {
    newest = position ? JSON.stringify(position) : null;
    if (askedAt && JSON.stringify(drawn) === askedFor) {
      restsUntil = Date.now() + Math.min(Date.now() - askedAt, RETRY_MS);
      askedAt = 0;
    }
    draw();
    return askedFor;
  }

  function draw() {
    window.clearTimeout(drawing);
    var wait = (askedAt ? askedAt + PATIENCE_MS : restsUntil) - Date.now(); // after that it was lost
    if (wait > 0) { drawing = window.setTimeout(draw, wait); return; }
    if (!newest || !byId("bench") || (!askedAt && newest === askedFor)) { return; }
    askedFor = newest;
    askedAt = Date.now();
    drawing = window.setTimeout(draw, PATIENCE_MS);
    window.dash_clientside.set_props("bench-asked", { data: JSON.parse(newest) });
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    bench: {
      ask: ask,
      face: function (svg) {
        byId("bench-face").innerHTML = svg || "";
        return String((svg || "").length);
      },
      arrived: arrived
    }
  });
})();
