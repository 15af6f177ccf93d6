// A page's script and style sheet: bundled beside this module by the build, or on the spot in a source tree.
import { existsSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import { OffcutError } from '../../errors.js'

export interface PageAssets {
  readonly script: string
  readonly style: string
}

/** The pages there are: the sheet's, that of a patch's check and the one over several shots. */
export type PageName = 'page' | 'check' | 'shots'

const ENTRIES: Readonly<Record<PageName, string>> = { page: 'main.tsx', check: 'check.ts', shots: 'shots.ts' }

const known = new Map<PageName, Promise<PageAssets>>()

/** @throws OffcutError `SHEET_PAGE_MISSING` where the package was not built whole */
export function pageAssets(name: PageName = 'page'): Promise<PageAssets> {
  const found = known.get(name) ?? load(name)
  known.set(name, found)
  return found
}

async function load(name: PageName): Promise<PageAssets> {
  const bundled = new URL(`../${name}`, import.meta.url)
  const { script, style } = await bundle(
    bundled,
    new URL(`../page/${ENTRIES[name]}`, import.meta.url),
    'sheet',
  )
  return { script: inline(script), style: inline(style) }
}

/**
 * A page's files as they are.
 *
 * @param built  where the build puts them, without `.js` and `.css`
 * @param source its first module, in a source tree
 * @param what   has no page without them
 * @throws OffcutError `SHEET_PAGE_MISSING` where neither is there
 */
export async function bundle(built: URL, source: URL, what: string): Promise<PageAssets> {
  const script = new URL(`${built.href}.js`)
  const style = new URL(`${built.href}.css`)
  if (existsSync(script) && existsSync(style)) {
    const [js, css] = await Promise.all([readFile(script, 'utf8'), readFile(style, 'utf8')])
    return { script: js, style: css }
  }
  if (existsSync(source)) return bundleNow(source)
  throw new OffcutError(
    'SHEET_PAGE_MISSING',
    `${fileURLToPath(script)} is missing, so the ${what} has no page to draw: run npm run build, or install offcut again`,
  )
}

/** What the build does, for tests and for work on the page. */
async function bundleNow(source: URL): Promise<PageAssets> {
  const { build } = await import('esbuild')
  const { outputFiles } = await build({
    entryPoints: [fileURLToPath(source)],
    bundle: true,
    minify: true,
    write: false,
    format: 'iife',
    target: ['chrome109', 'firefox115', 'safari16'],
    outdir: 'page',
    logLevel: 'silent',
  })
  const find = (end: string) => outputFiles.find((file) => file.path.endsWith(end))?.text ?? ''
  return { script: find('.js'), style: find('.css') }
}

/** Text that can stand in a script or style element: nothing in it ends that element. */
function inline(text: string): string {
  return text.trim().replaceAll('</', '<\\/')
}
