// Strips the types from sources with esbuild, file by file, so that worker files are found where src/ expects them, and
// puts the compiled kernels beside them.
import { copyFile, mkdir, writeFile } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { build } from 'esbuild'

const top = resolve(dirname(fileURLToPath(import.meta.url)), '..')
const KERNELS = 'src/kernels/kernels.wasm'

export async function transpile(out, entryPoints = [], options = {}) {
  await mkdir(out, { recursive: true })
  await writeFile(join(out, 'package.json'), '{ "type": "module", "version": "0.0.0" }\n')
  await build({
    absWorkingDir: top,
    entryPoints: ['src/**/*.ts', 'src/**/*.tsx', ...entryPoints],
    outdir: out,
    outbase: '.',
    format: 'esm',
    platform: 'node',
    target: 'node20',
    jsx: 'automatic',
    jsxImportSource: 'preact',
    logLevel: 'error',
    ...options,
  })
  await copyFile(join(top, KERNELS), join(out, KERNELS))
}
