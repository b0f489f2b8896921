/** Jobs: a new one from a picture that is dropped, pasted or chosen; old ones opened, deleted. */

import { ApiError, type Fault, type JobNote } from "./api";
import { button, fill, h } from "./dom";
import "./jobs.css";
import type { Page } from "./page";
import { bytesText, momentText, plural } from "./words";

const PICTURES = "image/*,.tif,.tiff,.bmp,.webp,.heic,.toml";

export function mount(host: HTMLElement, page: Page): void {
  const trouble = h("p", { class: "fault", role: "alert" });
  const taking = new Taking(page, (text) => {
    trouble.textContent = text;
    if (page.store.now.open !== null && text) page.store.change({ trouble: text });
  });
  const title = h("h1", { class: "job-title" }, "New work sheet");
  const start = h("div", { class: "start" }, title, dropPlace(taking), trouble, list(page));
  host.append(start);
  takeFromAnywhere(taking);
  page.store.watch(["open"], ({ open }) => {
    host.hidden = open !== null;
    if (open === null) void page.sync.listJobs();
    else trouble.textContent = "";
  });
  page.store.watch(["trouble"], ({ open, trouble: words }) => {
    if (open === null && words !== null) trouble.textContent = words;
  });
}

/** Takes pictures and job files in, and opens what comes of them. */
export class Taking {
  constructor(
    private readonly page: Page,
    private readonly trouble: (text: string) => void,
  ) {}

  async files(files: File[]): Promise<void> {
    this.trouble("");
    const settings = files.find((file) => file.name.toLowerCase().endsWith(".toml"));
    const picture = files.find((file) => file !== settings);
    try {
      if (picture !== undefined) await this.picture(picture);
      if (settings !== undefined) await this.settings(settings);
    } catch (why) {
      if (!(why instanceof ApiError)) throw why;
      this.trouble(why.message);
    }
  }

  private async picture(file: File): Promise<void> {
    const most_mb = this.page.store.now.tables?.limits.max_mb;
    if (most_mb !== undefined && file.size > most_mb * 1e6) {
      this.trouble(
        `${file.name} has ${bytesText(file.size)}; pictures of up to ${most_mb} MB are taken.`,
      );
      return;
    }
    this.page.say(`Taking in ${file.name}.`);
    document.documentElement.classList.add("taking");
    try {
      const { id } = await this.page.api.upload(file, file.name || "picture");
      await this.page.sync.open(id, URL.createObjectURL(file));
      location.hash = `job=${encodeURIComponent(id)}`;
    } finally {
      document.documentElement.classList.remove("taking");
    }
  }

  private async settings(file: File): Promise<void> {
    if (this.page.store.now.open === null) {
      const why = "holds settings alone: bring in its picture first, or both at once";
      this.trouble(`${file.name} ${why}.`);
      return;
    }
    const text = await file.text();
    const taken = await this.page.edit.take(`Settings of ${file.name} taken`, ["job.toml"], (id) =>
      this.page.api.putJobFile(id, text),
    );
    if (!taken) this.trouble(this.page.store.now.faults.map(faultText).join("\n"));
  }
}

/** A fault with the setting that it is about. */
const faultText = ({ path, message }: Fault): string =>
  path === "" || path === "job.toml" ? message : `${path}: ${message}`;

function dropPlace(taking: Taking): HTMLElement {
  const input = h("input", {
    type: "file",
    id: "picture-file",
    class: "unseen file-input",
    accept: PICTURES,
    multiple: true,
    on: {
      change: () => {
        void taking.files([...(input.files ?? [])]);
        input.value = "";
      },
    },
  });
  return h(
    "div",
    { class: "drop" },
    h("p", { class: "drop-words" }, "Put a picture here"),
    h("p", {}, "A drawing, a scan, a photo of a sheet of paper. It becomes pockets and resin."),
    input,
    h("label", { class: "button button-main drop-button", for: input.id }, "Choose a picture"),
    h(
      "p",
      { class: "hint" },
      "Or drop it anywhere on this page, or paste it. It stays on this machine.",
    ),
  );
}

function takeFromAnywhere(taking: Taking): void {
  const root = document.documentElement;
  document.addEventListener("dragover", (event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    root.classList.add("dropping");
  });
  document.addEventListener("dragleave", (event) => {
    if (event.relatedTarget === null) root.classList.remove("dropping");
  });
  document.addEventListener("drop", (event) => {
    root.classList.remove("dropping");
    const files = [...(event.dataTransfer?.files ?? [])];
    if (files.length === 0) return;
    event.preventDefault();
    void taking.files(files);
  });
  document.addEventListener("paste", (event) => {
    const files = [...(event.clipboardData?.files ?? [])];
    if (files.length === 0) return;
    event.preventDefault();
    void taking.files(files);
  });
}

function list(page: Page): HTMLElement {
  const rows = h("ul", { class: "job-list" });
  const room = h("p", { class: "hint" });
  const title = h("h2", { id: "jobs-title", tabindex: -1 }, "Jobs on this machine");
  const whole = h("section", { class: "old-jobs", "aria-labelledby": title.id }, title, rows, room);
  page.store.watch(["jobs"], ({ jobs }) => {
    whole.hidden = jobs === null || jobs.jobs.length === 0;
    if (jobs === null) return;
    fill(rows, ...jobs.jobs.map((note) => row(page, note)));
    room.textContent =
      `${plural(jobs.jobs.length, "job")}, ${bytesText(jobs.used_bytes)} of ` +
      `${bytesText(jobs.cap_bytes)} that they may take.`;
  });
  return whole;
}

function row(page: Page, note: JobNote): HTMLElement {
  const open = h(
    "a",
    { class: "job-open", href: `#job=${encodeURIComponent(note.id)}` },
    h("span", { class: "job-name" }, note.title),
    h("span", { class: "hint" }, `${momentText(note.changed)}, ${bytesText(note.bytes)}`),
  );
  const asked = h("div", { class: "row job-ask", hidden: true });
  const ask = button("Delete", () => show(true), {
    class: "button button-quiet",
    "aria-label": `Delete ${note.title}`,
  });
  const keep = button("Keep", () => show(false));
  const remove = button("Delete for good", () => void drop(page, note), {
    class: "button button-danger",
    "aria-label": `Delete ${note.title} for good`,
  });
  asked.append(keep, remove);
  const show = (yes: boolean): void => {
    asked.hidden = !yes;
    ask.hidden = yes;
    (yes ? keep : ask).focus();
  };
  return h("li", { class: "job-row" }, open, ask, asked);
}

async function drop(page: Page, note: JobNote): Promise<void> {
  try {
    await page.api.remove(note.id);
    page.say(`${note.title} is deleted.`);
  } catch (why) {
    if (!(why instanceof ApiError)) throw why;
    page.say(why.message);
  }
  await page.sync.listJobs();
  document.getElementById("jobs-title")?.focus();
}
