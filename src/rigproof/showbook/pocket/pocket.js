"use strict";
(function () {
  // Reading needs none of this: it adds a search and keeps ticks.
  var root = document.body.dataset.key + "/";
  var store = null;
  try { store = window.localStorage; store.getItem(root); } catch (refused) { store = null; }

  document.querySelectorAll("input[data-key]").forEach(function (field) {
    var key = root + field.dataset.key;
    var box = field.type === "checkbox";
    var kept = store && store.getItem(key);
    if (kept !== null) { if (box) { field.checked = kept === "1"; } else { field.value = kept || ""; } }
    field.addEventListener(box ? "change" : "input", function () {
      if (!store) { return; }
      var value = box ? (field.checked ? "1" : "") : field.value;
      try { if (value) { store.setItem(key, value); } else { store.removeItem(key); } } catch (full) { store = null; }
    });
  });

  var finder = document.getElementById("finder");
  var search = document.getElementById("search");
  var hits = document.getElementById("hits");
  var parts = Array.from(document.querySelectorAll(".entry, .sheet"));
  function folded(text) { return text.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, ""); }
  var texts = null;
  finder.hidden = false;
  search.addEventListener("input", function () {
    texts = texts || parts.map(function (part) { return folded(part.textContent); });
    var words = folded(search.value).split(/\s+/).filter(Boolean);
    var found = 0;
    parts.forEach(function (part, place) {
      var hit = words.every(function (word) { return texts[place].includes(word); });
      part.hidden = !hit;
      if (hit) { found += 1; }
    });
    document.querySelectorAll("main > section:not(.sheet)").forEach(function (section) {
      section.hidden = words.length > 0 && !section.querySelector(".entry:not([hidden]), figure:not([hidden])");
    });
    document.getElementById("contents").hidden = words.length > 0;
    hits.textContent = words.length ? (found || hits.dataset.none) : "";
  });
  window.addEventListener("hashchange", function () {
    // A way to an entry that the search has hidden leads out of the search.
    if (search.value) { search.value = ""; search.dispatchEvent(new Event("input")); location.replace(location.hash); }
  });
}());
