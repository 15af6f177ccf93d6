// The desk's page: a shell that holds what is shown first, and the script and style that the build bundled.
import { bundle, type PageAssets } from '../sheet/html/assets.js'
import { BEGIN_ID, type Begin } from './messages.js'

export function shellOf(begin: Begin): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>offcut desk</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="page.css">
<script src="page.js" defer></script>
</head>
<body><noscript>The desk needs JavaScript.</noscript>
<script type="application/json" id="${BEGIN_ID}">${data(begin)}</script></body>
</html>
`
}

/** JSON in which nothing ends the element that it stands in. */
function data(value: unknown): string {
  return JSON.stringify(value).replaceAll('<', '\\u003c')
}

let known: Promise<PageAssets> | undefined

/** @throws OffcutError `SHEET_PAGE_MISSING` where the package was not built whole */
export function deskAssets(): Promise<PageAssets> {
  known ??= bundle(new URL('./page', import.meta.url), new URL('./page/main.tsx', import.meta.url), 'desk')
  return known
}
