// Comfort for whoever lets scripts run: the page says all it has to say without this one. It asks nothing of
// any network, keeps nothing, and writes text only as text.
(() => {
  "use strict";
  const words = element => element.textContent.replace(/\s+/g, " ").trim();
  const made = (tag, name, text) => {
    const element = document.createElement(tag);
    if (name) element.className = name;
    if (text) element.textContent = text;
    return element;
  };

  // A copy of the action card as plain lines, for a message to whoever holds the meter.
  const card = document.getElementById("action");
  if (card && card.querySelector("dl")) {
    const button = made("button", "tool", "Copy this card");
    button.type = "button";
    const told = made("span", "told");
    told.setAttribute("role", "status");
    const lines = [...card.querySelectorAll("h2, p, dl > div")].map(part =>
      [...(part.matches("div") ? part.children : [part])].map(words).join(": "));
    const text = [words(document.querySelector("h1")), ...lines].join("\n");
    const bySelection = () => {
      const field = made("textarea");
      field.value = text;
      card.append(field);
      field.select();
      const done = document.execCommand("copy");
      field.remove();
      return done;
    };
    button.addEventListener("click", async () => {
      let done = false;
      try {
        await navigator.clipboard.writeText(text);
        done = true;
      } catch {
        done = bySelection();
      }
      told.textContent = done ? "Copied." : "The browser does not let it be copied: mark the words instead.";
    });
    const tools = made("p", "tools");
    tools.append(button, told);
    card.append(tools);
  }

  // The figures of a day, by choosing it or by pointing at its row in the chart of days.
  const chart = document.getElementById("days-chart");
  const table = document.querySelector("#table-days table");
  if (chart && table) {
    const heads = [...table.querySelectorAll("thead th")].map(words);
    const months = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
    // Dates stand in the table as 2026-05-14, in the chart as 14 May.
    const named = text => text.replace(/^\d{4}-(\d\d)-(\d\d)$/, (_, month, day) => Number(day) + " " + months[month - 1]);
    const rows = new Map([...table.querySelectorAll("tbody tr")].map(row => [named(words(row.cells[0])), row]));
    const figures = row => [...row.cells].slice(1).map((cell, i) => {
      const [name, unit] = heads[i + 1].split(", ");
      return name === "state" ? words(cell) : name + " " + words(cell) + (unit ? "\u00a0" + unit : "");
    }).join("; ");
    const choice = made("select");
    const empty = made("option", "", "a day");
    empty.value = "";
    choice.append(empty, ...[...rows.keys()].map(day => made("option", "", day)));
    const label = made("label", "", "Figures of ");
    label.append(choice);
    const shown = made("output", "told");
    const link = made("a", "", "why");
    const show = day => {
      const row = rows.get(day);
      if (!row) return;
      shown.textContent = day + ": " + figures(row) + ". ";
      const reason = [...document.querySelectorAll("#days .reasons tbody th")].find(head => words(head) === day);
      if (reason) {
        reason.id = "reason";
        for (const other of document.querySelectorAll("#days .reasons [id=reason]")) {
          if (other !== reason) other.removeAttribute("id");
        }
        link.href = "#reason";
        shown.append(link);
      }
    };
    link.addEventListener("click", () => {
      const fold = document.getElementById("reason").closest("details");
      if (fold) fold.open = true;
    });
    choice.addEventListener("change", () => show(choice.value));
    const labels = [...chart.querySelectorAll("text")].filter(text => rows.has(words(text)));
    chart.addEventListener("pointermove", event => {
      let nearest = null, least = 12;
      for (const text of labels) {
        const box = text.getBoundingClientRect();
        const away = Math.abs((box.top + box.bottom) / 2 - event.clientY);
        if (away < least) [nearest, least] = [text, away];
      }
      if (nearest) show(choice.value = words(nearest));
    });
    const tools = made("p", "tools");
    tools.append(label, shown);
    document.getElementById("figure-days").querySelector("figcaption").append(tools);
  }
})();
