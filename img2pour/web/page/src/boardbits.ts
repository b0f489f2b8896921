import type { Page } from "./page";

export function mount(_host: HTMLElement, _page: Page): void {}
