/** Step 6: the output, made once for what the sheet says, whole or file by file; the job file. */

import { ApiError, type OutputList } from "./api";
import { button, fill, h } from "./dom";
import { faultLine } from "./fields";
import { Taking } from "./jobs";
import type { Page } from "./page";
import "./takeaway.css";
import { bytesText, plural } from "./words";

export function mount(host: HTMLElement, page: Page): void {
  new TakeAway(host, page);
}

class TakeAway {
  private readonly make: HTMLButtonElement;
  private readonly said = h("p", { class: "hint", role: "status" });
  private readonly zip = h("a", { class: "button button-main zip", hidden: true, download: "" });
  private readonly files = h("div", { class: "files" });
  private output: OutputList | null = null;
  private making = false;

  constructor(
    host: HTMLElement,
    private readonly page: Page,
  ) {
    this.make = button("Make the files", () => void this.start(), { class: "button button-main" });
    const line = h("div", { class: "row" }, this.make, this.zip);
    host.append(line, this.said, this.files, jobFile(page));
    page.store.watch(["open", "outputRevision"], () => void this.load());
    page.store.watch(["state", "parts", "trouble"], () => this.draw());
  }

  private async start(): Promise<void> {
    const { open, state } = this.page.store.now;
    if (open === null || state === null || this.making || !this.hasSize) return;
    this.making = true;
    this.draw();
    try {
      await this.page.api.makeOutput(open);
    } catch (why) {
      this.fail(why);
    }
  }

  private fail(why: unknown): void {
    this.making = false;
    if (!(why instanceof ApiError)) throw why;
    this.draw();
    this.said.textContent = why.message;
    this.page.say(why.message);
  }

  private async load(): Promise<void> {
    const { open, outputRevision } = this.page.store.now;
    const before = this.output?.revision;
    this.output = null;
    if (open !== null && outputRevision !== null) {
      try {
        this.output = await this.page.api.output(open);
      } catch (why) {
        if (!(why instanceof ApiError)) throw why;
      }
    }
    if (this.output !== null && this.output.revision !== before) {
      if (this.making) this.page.say(`${plural(this.output.files.length, "file")} ready.`);
      this.making = false;
    }
    this.draw();
  }

  private get hasSize(): boolean {
    return this.page.store.drawn?.board != null;
  }

  private draw(): void {
    const { state, trouble } = this.page.store.now;
    if (trouble !== null) this.making = false;
    const fresh = this.output !== null && this.output.revision === state?.revision;
    this.make.textContent = this.making ? "Making the files" : fresh ? "Made" : "Make the files";
    this.make.setAttribute("aria-disabled", String(this.making || fresh || !this.hasSize));
    this.make.classList.toggle("button-main", !fresh);
    this.said.textContent = this.words(fresh);
    this.zip.hidden = !fresh;
    this.files.classList.toggle("is-old", !fresh);
    this.list(fresh);
  }

  private words(fresh: boolean): string {
    if (!this.hasSize) return "Say how large it is first: step 1 or step 3.";
    if (this.making) return "This takes some seconds. You can go on reading.";
    if (fresh) return "These files are of what the sheet says now.";
    return this.output === null
      ? "Drawings for each stage, the report, the template, the pictures, the board in the round."
      : "The sheet has changed since these files were made. Make them again.";
  }

  private list(fresh: boolean): void {
    const { open } = this.page.store.now;
    if (open === null || this.output === null || !fresh) {
      this.files.replaceChildren();
      return;
    }
    const total = this.output.files.reduce((sum, file) => sum + file.bytes, 0);
    this.zip.href = this.page.api.url.zip(open);
    this.zip.textContent = `All in one zip, ${bytesText(total)}`;
    fill(this.files, ...grouped(this.output).map(([folder, files]) => this.group(folder, files)));
  }

  private group(folder: string, files: OutputList["files"]): HTMLElement {
    const id = this.page.store.now.open ?? "";
    const rows = files.map(({ name, bytes }) =>
      h(
        "li",
        {},
        h(
          "a",
          {
            class: "file",
            href: this.page.api.url.file(id, name),
            download: name.split("/").at(-1),
          },
          h("span", { class: "file-name" }, name.split("/").at(-1)),
          h("span", { class: "file-bytes" }, bytesText(bytes)),
        ),
      ),
    );
    return h("div", {}, h("h3", {}, folder), h("ul", { class: "file-list" }, ...rows));
  }
}

const FOLDERS: [string, string][] = [
  ["carve/", "For the machine"],
  ["design/", "The design"],
  ["", "To read and to look at"],
];

function grouped(output: OutputList): [string, OutputList["files"]][] {
  const folderOf = (name: string): string =>
    FOLDERS.find(([folder]) => folder !== "" && name.startsWith(folder))?.[0] ?? "";
  return FOLDERS.map(([folder, title]): [string, OutputList["files"]] => [
    title,
    output.files.filter(({ name }) => folderOf(name) === folder),
  ]).filter(([, files]) => files.length > 0);
}

/** The settings as a file: down, and up again. */
function jobFile(page: Page): HTMLElement {
  const down = h("a", { class: "button link-button", download: "job.toml" }, "Take job.toml");
  const trouble = h("p", { class: "fault" });
  const taking = new Taking(page, (text) => {
    trouble.textContent = text;
  });
  const input = h("input", {
    type: "file",
    class: "unseen file-input",
    id: "job-file",
    accept: ".toml",
  });
  input.addEventListener("change", () => {
    void taking.files([...(input.files ?? [])]);
    input.value = "";
  });
  const up = h("label", { class: "button link-button", for: input.id }, "Bring a job.toml");
  page.store.watch(["open"], ({ open }) => {
    if (open !== null) down.href = page.api.url.jobFile(open);
    trouble.textContent = "";
  });
  return h(
    "div",
    { class: "job-file" },
    h("h3", {}, "The settings"),
    h(
      "p",
      { class: "hint" },
      "Every setting of this sheet in one file of text. With it the command gives the same files, " +
        "and another picture can be done the same way.",
    ),
    h("div", { class: "row" }, down, input, up),
    trouble,
    faultLine(page, "job.toml"),
  );
}
