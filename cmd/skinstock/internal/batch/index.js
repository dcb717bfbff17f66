(function () {
  "use strict";
  var body = document.querySelector("tbody"), rows = Array.prototype.slice.call(body.rows);
  var heads = Array.prototype.slice.call(document.querySelectorAll("thead th"));
  var form = document.getElementById("filter"), find = document.getElementById("find");
  var flawed = document.getElementById("flawed"), shown = document.getElementById("shown");
  form.hidden = false;

  // Heads become buttons that sort by their column, once more the other way.
  heads.forEach(function (th, column) {
    if (!th.dataset.sort) return;
    var button = document.createElement("button");
    button.type = "button";
    while (th.firstChild) button.appendChild(th.firstChild);
    th.appendChild(button);
    button.addEventListener("click", function () { sort(th, column); });
  });

  function key(row, column, numeric) {
    var cell = row.cells[column];
    return numeric ? parseFloat(cell.dataset.value || "-1") : cell.textContent;
  }

  function sort(th, column) {
    var up = th.getAttribute("aria-sort") !== "ascending", numeric = th.dataset.sort === "number";
    heads.forEach(function (h) { if (h.dataset.sort) h.setAttribute("aria-sort", "none"); });
    th.setAttribute("aria-sort", up ? "ascending" : "descending");
    var order = rows.map(function (row, i) { return { row: row, key: key(row, column, numeric), i: i }; });
    order.sort(function (a, b) {
      var c = numeric ? a.key - b.key : a.key.localeCompare(b.key, "en", { numeric: true });
      return (up ? c : -c) || a.i - b.i;
    });
    order.forEach(function (o) { body.appendChild(o.row); });
  }

  function filter() {
    var words = find.value.toLowerCase(), wanted = {}, n = 0;
    Array.prototype.forEach.call(form.querySelectorAll("[name=outcome]"), function (box) { wanted[box.value] = box.checked; });
    rows.forEach(function (row) {
      var text = (row.cells[1].textContent + " " + row.cells[2].textContent).toLowerCase();
      var bad = row.dataset.level === "warning" || row.dataset.level === "error";
      row.hidden = !(wanted[row.dataset.outcome] && text.indexOf(words) >= 0 && (!flawed.checked || bad));
      if (!row.hidden) n++;
    });
    shown.textContent = n === rows.length ? "" : n + " of " + rows.length + " parts shown";
  }
  form.addEventListener("input", filter);
  form.addEventListener("change", filter);
  form.addEventListener("submit", function (e) { e.preventDefault(); });
  filter(); // a browser may have kept what was typed before
})();
