// The package's JavaScript: its own modules bundled, so that a command and each of its threads load a few files instead of
// hundreds, and the scripts of its pages. What a command loads only when it is asked for stays in files of its own, and so
// does what several entries share. Packages stay outside.
import { copyFile, mkdir, readFile, writeFile } from 'node:fs/promises'
import { createRequire } from 'node:module'
import { dirname, relative, resolve } from 'node:path'
import { build } from 'esbuild'

const SOURCE = resolve('src')
const BUILT = resolve('dist')
/** What a program imports, what the launcher starts, and what a thread starts from, each where its source lies. */
const ENTRIES = [
  'index.ts',
  'cli/run.ts',
  'track/track-worker.ts',
  'sheet/data/draw-worker.ts',
  'desk/pictures/picture-worker.ts',
  'desk/pictures/preview-worker.ts',
]
const PAGES = {
  'sheet/page': 'sheet/page/main.tsx',
  'sheet/check': 'sheet/page/check.ts',
  'sheet/shots': 'sheet/page/shots.ts',
  'desk/page': 'desk/page/main.tsx',
}

/** Stands for the address of a module until it is known which file the module has gone into. */
const PLACE = /"PLACE_OF (.*?)"/g
const namesPlace = {
  name: 'names-place',
  setup({ onLoad }) {
    onLoad({ filter: /\.tsx?$/ }, async ({ path }) => {
      const source = await readFile(path, 'utf8')
      const built = relative(SOURCE, path).replace(/\.tsx?$/, '.js')
      const contents = withoutLists(source).replaceAll('import.meta.url', `"PLACE_OF ${built}"`)
      if (contents === source) return undefined
      return { contents, loader: path.endsWith('x') ? 'tsx' : 'ts' }
    })
  },
}

/** `const [a, b] = [x, y]` on a line of its own; what follows a bracket that closes earlier is no such list. */
const TAKEN_APART = /^(\s*)(const|let) \[(\w+(?:, \w+)*)\] = \[(.*)\]$/gm

/**
 * Names that are given values side by side are given them one by one: to the engine the list is an array, and taking it apart an
 * iterator, in every function that does so and is compiled.
 */
function withoutLists(source) {
  return source.replace(TAKEN_APART, (line, indent, kind, listed, given) => {
    const names = listed.split(', ')
    const values = valuesIn(given)
    if (values?.length !== names.length || values.some((value) => value.startsWith('...'))) return line
    return `${indent}${kind} ${names.map((name, i) => `${name} = ${values[i]}`).join(', ')};`
  })
}

/** The values of a list, as they are written between its brackets; null where these are not its own, or it has a text in it. */
function valuesIn(list) {
  if (/['"`/\\]/.test(list.replaceAll(' / ', ' ')) || list.includes('=>')) return null
  const values = ['']
  let depth = 0
  for (const sign of list) {
    if ('([{'.includes(sign)) depth++
    if (')]}'.includes(sign)) depth--
    if (depth < 0) return null
    if (sign === ',' && depth === 0) values.push('')
    else values[values.length - 1] += sign
  }
  return values.map((value) => value.trim())
}

/** A module that was bundled finds the files beside it (WebAssembly, threads, pages) as if it lay where its source does. */
function placed(text, file) {
  const from = dirname(file)
  return text.replace(PLACE, (_, built) => {
    const path = relative(from, resolve(BUILT, built))
    return `new URL("${path.startsWith('.') ? path : `./${path}`}", import.meta.url)`
  })
}

/**
 * Packages of CommonJS that every find or thread loads. Node finds the names that such a package exports by reading its text,
 * in JavaScript, whenever a module imports it, but not where it is required.
 */
const REQUIRED = ['commander', 'fft.js', 'fs-native-extensions', 'ndarray', 'piscina', 'sharp']
const requiresPackages = {
  name: 'requires-packages',
  setup({ onResolve, onLoad }) {
    const require = createRequire(import.meta.url)
    onResolve({ filter: new RegExp(`^(${REQUIRED.join('|').replaceAll('.', '\\.')})$`) }, ({ path }) => ({
      path,
      namespace: 'required',
    }))
    onLoad({ filter: /./, namespace: 'required' }, async ({ path }) => {
      const imported = Object.keys(await import(path))
      const names = imported.filter((name) => name in require(path) && name !== 'default')
      const contents = [
        "import { createRequire } from 'node:module'",
        `const required = createRequire(import.meta.url)('${path}')`,
        'export default required',
        `export const { ${names.join(', ')} } = required`,
      ]
      return { contents: contents.join('\n') }
    })
  },
}

async function modules() {
  const { outputFiles } = await build({
    entryPoints: ENTRIES.map((entry) => `src/${entry}`),
    outbase: 'src',
    outdir: 'dist',
    chunkNames: 'chunks/[name]-[hash]',
    bundle: true,
    splitting: true,
    packages: 'external',
    format: 'esm',
    platform: 'node',
    target: 'node20.9',
    jsx: 'automatic',
    jsxImportSource: 'preact',
    sourcemap: true,
    sourcesContent: false,
    plugins: [namesPlace, requiresPackages],
    write: false,
    logLevel: 'warning',
  })
  await Promise.all(
    outputFiles.map(async ({ path, text }) => {
      await mkdir(dirname(path), { recursive: true })
      await writeFile(path, placed(text, path))
    }),
  )
}

function pages() {
  return build({
    entryPoints: Object.entries(PAGES).map(([out, entry]) => ({ out, in: `src/${entry}` })),
    outdir: 'dist',
    bundle: true,
    minify: true,
    format: 'iife',
    target: ['chrome109', 'firefox115', 'safari16'],
    logLevel: 'warning',
  })
}

async function kernels() {
  await mkdir('dist/kernels', { recursive: true })
  for (const name of ['kernels.wasm', 'kernels.d.ts'])
    await copyFile(`src/kernels/${name}`, `dist/kernels/${name}`)
}

await Promise.all([modules(), pages(), kernels()])
