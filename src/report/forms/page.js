// Sorts tables and moves curves. What is drawn was computed by the program: the page decodes it, picks nodes and interpolates.
(function () {
  "use strict";

  // ── Tables ──
  function sortBy(header) {
    var row = header.parentNode;
    var body = header.closest("table").tBodies[0];
    var column = Array.prototype.indexOf.call(row.children, header);
    var ascending = header.getAttribute("aria-sort") !== "ascending";
    var key = function (line) {
      var cell = line.children[column];
      var number = cell.getAttribute("data-number");
      return { number: number === null ? NaN : Number(number), text: cell.textContent };
    };
    var lines = Array.prototype.slice.call(body.rows).map(function (line) {
      return { line: line, key: key(line) };
    });
    var compare = function (one, other) {
      var first = one.key, second = other.key;
      var numbers = [first.number, second.number].filter(function (number) { return !isNaN(number); });
      // What has no number comes last either way.
      if (numbers.length === 1) { return isNaN(first.number) ? 1 : -1; }
      var order = numbers.length === 2
        ? first.number - second.number
        : first.text.localeCompare(second.text, "en", { numeric: true });
      return ascending ? order : -order;
    };
    lines.sort(compare).forEach(function (item) { body.appendChild(item.line); });
    Array.prototype.forEach.call(row.children, function (other) { other.setAttribute("aria-sort", "none"); });
    header.setAttribute("aria-sort", ascending ? "ascending" : "descending");
  }
  Array.prototype.forEach.call(document.querySelectorAll("table.sorts thead th"), function (header) {
    header.querySelector("button").addEventListener("click", function () { sortBy(header); });
  });

  // What is folded away belongs on paper.
  window.addEventListener("beforeprint", function () {
    Array.prototype.forEach.call(document.querySelectorAll("details"), function (details) { details.open = true; });
  });

  // ── Curves ──
  var data = document.getElementById("sweep");
  if (data === null) { return; }
  var sweep = JSON.parse(data.textContent);
  var at = function (id) { return document.getElementById(id); };
  var count = sweep.frequencies_hz.length;

  // Levels are written in hundredths of a dB as changes of the step from one to the next: a letter each, or a number ended by a semicolon.
  function decoded(text) {
    var levels = new Float64Array(count), level = 0, step = 0, from = 0;
    for (var place = 0; place < count; place += 1) {
      var code = text.charCodeAt(from), end = from + 1;
      if (code >= 97) {
        step += code - 97;
      } else if (code >= 65) {
        step -= code - 64;
      } else {
        end = text.indexOf(";", from) + 1;
        step += Number(text.slice(from, end - 1));
      }
      from = end;
      level += step;
      levels[place] = level;
    }
    return levels;
  }

  function known(index, node) {
    var levels = sweep.builds[index].levels;
    if (typeof levels[node] === "string") { levels[node] = decoded(levels[node]); }
    return levels[node];
  }

  // Which nodes of a travel count at a rotation, and by how much: the cubic through the four nodes of a panel; null below the first.
  function weights(travel, rotation) {
    var nodes = travel.nodes, last = nodes.length - 1;
    if (last === 0 || (travel.apart_at_full && rotation >= 1)) { return [[last, 1]]; }
    var steps = travel.fractions.length - 1;
    var place = rotation * steps, below = Math.min(Math.floor(place), steps - 1);
    var low = travel.fractions[below], high = travel.fractions[below + 1];
    var fraction = low + (high - low) * (place - below);
    if (fraction < nodes[0] * (1 - 1e-9)) { return null; }
    var end = last - (travel.apart_at_full ? 1 : 0), start = 0;
    while (start + 3 < end && nodes[start + 3] <= fraction) { start += 3; }
    var coordinate = function (fraction) { return Math.log((fraction + travel.near) / (1 + travel.far - fraction)); };
    var point = coordinate(fraction);
    var places = [0, 1, 2, 3].map(function (index) { return coordinate(nodes[start + index]); });
    return places.map(function (own, index) {
      var weight = 1;
      places.forEach(function (other, place) {
        if (place !== index) { weight *= (point - other) / (own - other); }
      });
      return [start + index, weight];
    });
  }

  function levelsOf(index, volume, tone) {
    var rows = weights(sweep.volume, volume), columns = weights(sweep.tone, tone);
    if (rows === null || columns === null) { return null; }
    var levels = new Float64Array(count);
    rows.forEach(function (row) {
      columns.forEach(function (column) {
        var own = known(index, row[0] * sweep.tone.nodes.length + column[0]), weight = row[1] * column[1] / 100;
        for (var place = 0; place < count; place += 1) { levels[place] += weight * own[place]; }
      });
    });
    return levels;
  }

  var picture = at("curves");
  var frame = picture.getAttribute("data-frame").split(" ").map(Number);
  var left = frame[0], top = frame[1], right = frame[2], bottom = frame[3];
  var lowest = Math.log(sweep.frequencies_hz[0]), widest = Math.log(sweep.frequencies_hz[count - 1]) - lowest;
  var across = sweep.frequencies_hz.map(function (hertz) { return left + (right - left) * (Math.log(hertz) - lowest) / widest; });
  var labels = Array.prototype.slice.call(picture.querySelectorAll(".level"));
  var range = 5 * (labels.length - 1);
  var sides = ["before", "after"];
  var shown = {};

  function written(value) {
    var text = Math.abs(value).toFixed(1);
    return (text === "0.0" ? "" : value > 0 ? "+" : "\u2212") + text;
  }

  function knob(id) {
    var slider = at(id);
    return slider === null ? 1 : Number(slider.value) / 100;
  }

  function hertz() {
    var value = sweep.frequencies_hz[Number(at("frequency").value)];
    return value >= 100 ? value.toFixed(0) : value.toFixed(1);
  }

  function draw() {
    var volume = knob("volume"), tone = knob("tone");
    var choice = document.querySelector("input[name=show]:checked").value;
    var highest = -Infinity;
    sides.forEach(function (side) {
      var wanted = choice === "both" || choice === side;
      shown[side] = wanted ? levelsOf(Number(at(side).value), volume, tone) : undefined;
      if (shown[side]) { highest = Math.max(highest, Math.max.apply(null, shown[side])); }
    });
    if (highest === -Infinity) { highest = 0; }
    // The window follows the volume in whole lines.
    var ceiling = 5 * Math.ceil((highest + 1) / 5);
    labels.forEach(function (label, index) { label.textContent = String(ceiling - 5 * index).replace("-", "\u2212"); });
    var upward = function (level) { return top + (bottom - top) * (ceiling - level) / range; };
    sides.forEach(function (side) {
      var levels = shown[side], path = "";
      if (levels) {
        for (var place = 0; place < count; place += 1) {
          path += (place === 0 ? "M" : "L") + across[place].toFixed(1) + " " + upward(levels[place]).toFixed(2);
        }
      }
      at("curve-" + side).setAttribute("d", path);
    });
    read(upward);
  }

  function read(upward) {
    var place = Number(at("frequency").value);
    at("reading").setAttribute("d", "M" + across[place].toFixed(1) + " " + top + "V" + bottom);
    var said = [];
    sides.forEach(function (side) {
      var levels = shown[side], dot = at("dot-" + side);
      dot.setAttribute("cx", levels ? across[place].toFixed(1) : "-99");
      dot.setAttribute("cy", levels ? upward(levels[place]).toFixed(2) : "-99");
      if (levels) { said.push(side + " " + written(levels[place]) + " dB"); }
      if (levels === null) { said.push(side + " as good as silent"); }
    });
    if (shown.before && shown.after) { said.push("after less before " + written(shown.after[place] - shown.before[place]) + " dB"); }
    ["volume", "tone"].forEach(function (id) {
      var slider = at(id);
      if (slider === null) { return; }
      var position = (Number(slider.value) / 10).toFixed(1);
      at(id + "-value").textContent = position;
      slider.setAttribute("aria-valuetext", position + " of 10");
    });
    at("frequency-value").textContent = hertz() + " Hz";
    at("frequency").setAttribute("aria-valuetext", hertz() + " hertz");
    var knobs = "Volume " + (10 * knob("volume")).toFixed(1) + (at("tone") === null ? "" : ", tone " + (10 * knob("tone")).toFixed(1));
    at("readout").textContent = knobs + ", " + hertz() + " Hz: " + said.join(", ") + ".";
    at("curves-text").textContent = at("readout").textContent;
  }

  // Pointing at the picture reads it there.
  function point(event) {
    var box = picture.getBoundingClientRect();
    var x = (event.clientX - box.left) * picture.viewBox.baseVal.width / box.width;
    var nearest = 0;
    across.forEach(function (place, index) {
      if (Math.abs(place - x) < Math.abs(across[nearest] - x)) { nearest = index; }
    });
    at("frequency").value = String(nearest);
    draw();
  }
  picture.addEventListener("pointermove", point);
  picture.addEventListener("pointerdown", point);
  ["volume", "tone", "frequency"].forEach(function (id) {
    if (at(id) !== null) { at(id).addEventListener("input", draw); }
  });
  sides.forEach(function (side) { at(side).addEventListener("change", draw); });
  Array.prototype.forEach.call(document.querySelectorAll("input[name=show]"), function (radio) { radio.addEventListener("change", draw); });
  draw();
}());
