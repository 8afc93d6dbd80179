// Bundles the scripts of the pages into the package: one file a page needs, nothing fetched from elsewhere.
import { build } from "esbuild";

await build({
  entryPoints: ["src/app.ts"],
  bundle: true,
  minify: true,
  target: ["es2022"],
  outdir: "../src/slackwater/web/static/dist",
  logLevel: "warning",
});
