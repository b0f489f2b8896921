/** What would help, with its numbers and a button; and the same artwork on other boards. */

import type { CheckPart } from "../api";
import { button, h } from "../dom";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { hours, millilitres, percent } from "../panel/figures";
import { table } from "../panel/table";

export function adviceBlock(page: Page): HTMLElement {
  const host = h("div", { class: "advice" });
  page.store.watch(["parts"], ({ parts }) => {
    refill(host, ...(parts.check ? [advice(page, parts.check), ladder(page, parts.check)] : []));
  });
  return host;
}

function advice(page: Page, check: CheckPart): HTMLElement | null {
  if (check.advice.length === 0) return null;
  const lines = check.advice.map((one, n) =>
    h(
      "li",
      {},
      h("span", {}, sentence(one.words)),
      one.changes.length > 0
        ? button(
            capital(one.button ?? "do this"),
            () =>
              void page.edit.take(
                one.button ?? "Advice taken",
                one.changes.map((change) => change.path),
                (id) => page.api.advice(id, n),
              ),
            { id: `advice-${n}` },
          )
        : null,
    ),
  );
  return h("div", {}, h("h4", {}, "What would help"), h("ul", { class: "advice-list" }, ...lines));
}

const capital = (words: string): string => words.charAt(0).toUpperCase() + words.slice(1);

const sentence = (words: string): string =>
  /[.)]$/.test(words) ? capital(words) : `${capital(words)}.`;

function ladder(page: Page, check: CheckPart): HTMLElement | null {
  if (check.ladder.length === 0) return null;
  const rung = table(
    {
      caption: "The same artwork and the same bits",
      first: "Width",
      name: (row) => row.width_text,
    },
    check.ladder,
    [
      { head: "Lost", show: (row) => percent(row.lost_percent), number: true },
      { head: "Pockets hold", show: (row) => millilitres(row.volume_ml), number: true },
      { head: "Carving", show: (row) => hours(row.minutes / 60), number: true },
      {
        head: "Take it",
        isHeadUnseen: true,
        show: (row) =>
          button("Take this", () => void page.edit.apply(`Width ${row.width_text}`, row.changes), {
            id: `ladder-${row.width_text}`,
            "aria-label": `Take this: ${row.width_text} wide`,
          }),
      },
    ],
  );
  return h("div", {}, h("h4", {}, "On other boards"), rung);
}
