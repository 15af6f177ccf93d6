// Who may speak with the desk: programs of this machine that know its token, and of those no page but its own. A browser
// will send requests anywhere for any page; what it can't do is lie about Host, Origin and Sec-Fetch-Site (WHATWG Fetch;
// W3C Fetch Metadata). A name that was rebound to this machine is told by its Host.
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto'
import type { IncomingMessage, ServerResponse } from 'node:http'

/** A word that nobody guesses, which every address of the desk begins with: 256 bits, base64url. */
export function newToken(): string {
  return randomBytes(32).toString('base64url')
}

export interface Gate {
  readonly port: number
  readonly token: string
}

/** Why a request is not listened to: an HTTP status, with a sentence where it gives nothing away. */
export interface Refusal {
  readonly status: 403 | 404
  readonly message?: string
}

const METHODS: readonly string[] = ['GET', 'HEAD', 'POST', 'PATCH', 'PUT', 'DELETE']
const READING: readonly string[] = ['GET', 'HEAD']

/** @returns null where it may pass */
export function refusalOf(
  { method = '', url = '', headers }: Pick<IncomingMessage, 'method' | 'url' | 'headers'>,
  { port, token }: Gate,
): Refusal | null {
  const { host, origin } = headers
  if (host !== `127.0.0.1:${port}` && host !== `localhost:${port}`)
    return { status: 403, message: `the desk answers to 127.0.0.1:${port} and localhost:${port} only` }
  // What asks from elsewhere whether it may is told nothing: no answer allows it.
  if (!METHODS.includes(method)) return { status: 404 }
  if (!isSame(firstPart(url), token)) return { status: 404 }
  const ours =
    origin === undefined ? headers['sec-fetch-site'] === 'same-origin' : origin === `http://${host}`
  const mayPass = ours || (origin === undefined && READING.includes(method))
  return mayPass ? null : { status: 403, message: "only the desk's own page may do this" }
}

/** Of `/TOKEN/shots` the token. */
function firstPart(url: string): string {
  return /^\/([^/?#]*)/.exec(url)?.[1] ?? ''
}

/** Takes as long whatever differs. */
function isSame(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest()
  return timingSafeEqual(digest(a), digest(b))
}

/** What the desk's own page may load: its script, its style, its pictures, and answers of this server. */
const PAGE_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "connect-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'self'",
].join('; ')

/** Of every answer; a route may only replace the policy by another. */
export function setHeaders(response: ServerResponse): void {
  response.setHeader('Content-Security-Policy', PAGE_POLICY)
  response.setHeader('Referrer-Policy', 'no-referrer')
  response.setHeader('X-Content-Type-Options', 'nosniff')
  response.setHeader('Cross-Origin-Resource-Policy', 'same-origin')
  response.setHeader('Cross-Origin-Opener-Policy', 'same-origin')
  response.setHeader('Cache-Control', 'no-store')
}
