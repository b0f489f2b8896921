import { defineConfig } from "vite";

// File names carry no hash: the built page is committed, and the same source gives the same files.
export default defineConfig({
  base: "/",
  build: {
    outDir: "../built",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    license: { fileName: "assets/licences.md" },
    rollupOptions: {
      output: {
        entryFileNames: "assets/[name].js",
        chunkFileNames: "assets/[name].js",
        assetFileNames: "assets/[name][extname]",
      },
    },
  },
  server: { host: "127.0.0.1", proxy: { "/api": "http://127.0.0.1:8765" } },
});
