// Files below a shot's folder as they are: sheets, patches, results. Nothing else: links are followed before it is looked where
// they lead.
import { createReadStream } from 'node:fs'
import { realpath, stat } from 'node:fs/promises'
import { extname, join, sep } from 'node:path'
import { Readable } from 'node:stream'
import { notFound } from './refused.js'

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.json': 'application/json',
  '.csv': 'text/csv; charset=utf-8',
  '.png': 'image/png',
  '.jpg': 'image/jpeg',
  '.svg': 'image/svg+xml',
  '.pdf': 'application/pdf',
}

/** A page that offcut wrote has its own policy beside this one, and both hold: it may not speak with the desk. */
const FILE_POLICY = [
  "default-src 'none'",
  'img-src data: blob:',
  "style-src 'unsafe-inline'",
  "script-src 'unsafe-inline'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'self'",
].join('; ')

/** @param path below the folder, its parts split by `/` @throws Refused 404 */
export async function fileAnswer(folder: string, path: string): Promise<Response> {
  const parts = path.split('/')
  const isPlain = parts.every((part) => part !== '' && !part.startsWith('.') && !/[\\\0]/.test(part))
  const [root, file] = isPlain
    ? await Promise.all([realpath(folder), realpath(join(folder, ...parts)).catch(() => null)])
    : ['', null]
  if (file === null || !file.startsWith(root + sep)) throw notFound('there is no such file in the shot')
  const found = await stat(file)
  if (!found.isFile()) throw notFound('there is no such file in the shot')
  const body = Readable.toWeb(createReadStream(file)) as ReadableStream<Uint8Array>
  return new Response(body, {
    headers: {
      'Content-Type': TYPES[extname(file).toLowerCase()] ?? 'application/octet-stream',
      'Content-Length': String(found.size),
      'Content-Security-Policy': FILE_POLICY,
    },
  })
}
