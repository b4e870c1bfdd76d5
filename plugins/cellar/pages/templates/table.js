"use strict";
(function () {
  var table = document.getElementById("casks");
  if (!table) { return; }
  var body = table.tBodies[0], rows = Array.from(body.rows), find = document.getElementById("find"), shown = document.getElementById("shown");
  var compare = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });
  function key(row, column) { var cell = row.cells[column]; return cell.dataset.key !== undefined ? cell.dataset.key : cell.textContent.trim(); }
  function filter() {
    var words = find.value.trim().toLowerCase().split(/\s+/), count = 0;
    rows.forEach(function (row) {
      var text = row.textContent.toLowerCase();
      row.hidden = !words.every(function (word) { return text.includes(word); });
      count += row.hidden ? 0 : 1;
    });
    shown.textContent = count + " of " + rows.length + " casks shown";
  }
  Array.from(table.tHead.rows[0].cells).forEach(function (heading, column) {
    heading.querySelector("button").addEventListener("click", function () {
      var down = heading.getAttribute("aria-sort") === "ascending";
      Array.from(heading.parentNode.cells).forEach(function (cell) { cell.removeAttribute("aria-sort"); });
      heading.setAttribute("aria-sort", down ? "descending" : "ascending");
      rows.sort(function (one, other) {
        var a = key(one, column), b = key(other, column);
        if (!a || !b) { return a ? -1 : b ? 1 : 0; }
        return (down ? -1 : 1) * compare.compare(a, b);
      });
      rows.forEach(function (row) { body.appendChild(row); });
    });
  });
  find.addEventListener("input", filter);
  document.getElementById("print").addEventListener("click", function () { window.print(); });
  document.querySelector(".tools").hidden = false;
  filter();
})();
