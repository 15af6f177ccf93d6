// The desk's page: a shell that holds nothing, and the script and style that the build bundled.
import { bundle, type PageAssets } from '../sheet/html/assets.js'

export const SHELL = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>offcut desk</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="page.css">
<script src="page.js" defer></script>
</head>
<body><noscript>The desk needs JavaScript.</noscript></body>
</html>
`

let known: Promise<PageAssets> | undefined

/** @throws OffcutError `SHEET_PAGE_MISSING` where the package was not built whole */
export function deskAssets(): Promise<PageAssets> {
  known ??= bundle(new URL('./page', import.meta.url), new URL('./page/main.tsx', import.meta.url), 'desk')
  return known
}
