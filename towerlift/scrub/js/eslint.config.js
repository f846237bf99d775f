import js from "@eslint/js";

const browser = ["document", "Blob", "URL", "Response", "DecompressionStream", "ResizeObserver", "AbortController",
  "TextDecoder", "TextEncoder", "performance", "requestAnimationFrame", "cancelAnimationFrame", "setTimeout", "clearTimeout",
  "addEventListener", "console", "globalThis"];

export default [
  js.configs.recommended,
  {
    languageOptions: {
      ecmaVersion: 2024,
      sourceType: "module",
      globals: Object.fromEntries(browser.map((name) => [name, "readonly"])),
    },
    rules: {
      eqeqeq: "error",
      "no-var": "error",
      "prefer-const": "error",
      "no-shadow": "error",
      "no-unused-vars": "error",
      "consistent-return": "error",
    },
  },
];
