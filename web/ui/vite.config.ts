import { defineConfig } from "vite";

// No inline scripts or styles: the page's content policy forbids them.
export default defineConfig({
  base: "./",
  build: {
    target: "es2022",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    emptyOutDir: true, // public holds the .keep that git wants there
    chunkSizeWarningLimit: 400,
  },
});
