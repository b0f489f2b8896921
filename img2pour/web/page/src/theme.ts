/** Light or dark: as the device says, unless the switch says otherwise. */

import { button } from "./dom";

const KEY = "img2pour-theme";

/** A button that turns the page light or dark, and remembers it in this browser. */
export function themeSwitch(): HTMLButtonElement {
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  const kept = window.localStorage.getItem(KEY);
  let chosen: string | null = kept === "light" || kept === "dark" ? kept : null;
  const isDark = (): boolean => (chosen ?? (system.matches ? "dark" : "light")) === "dark";
  const show = (): void => {
    document.documentElement.dataset.theme = isDark() ? "dark" : "light";
    toggle.textContent = isDark() ? "Light" : "Dark";
    toggle.setAttribute("aria-label", isDark() ? "Use light colours" : "Use dark colours");
  };
  const toggle = button("", () => {
    chosen = isDark() ? "light" : "dark";
    window.localStorage.setItem(KEY, chosen);
    show();
  });
  toggle.classList.add("button-quiet");
  system.addEventListener("change", show);
  show();
  return toggle;
}
