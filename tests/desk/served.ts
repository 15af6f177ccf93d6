// A desk on a planted plate, served in this process, and requests of it as a page or as anybody else would send them.
import { mkdtempSync, rmSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Served, serveDesk } from '../../src/desk/serve.js'

export interface Running extends Served {
  readonly port: number
  readonly token: string
  readonly out: string
  /** As the page asks: below the token, as JSON. */
  ask(
    path: string,
    init?: { method?: string; body?: unknown; headers?: Record<string, string> },
  ): Promise<Response>
}

/** An empty folder that is removed by the function that comes with it. */
export function scratch(name: string): { readonly folder: string; remove(): void } {
  const folder = mkdtempSync(join(tmpdir(), `offcut-${name}-`))
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) }
}

export async function runDesk(folder: string, plates: readonly string[], port = 0): Promise<Running> {
  const out = join(folder, 'desk')
  const served = await serveDesk({ plates, out, here: folder }, port)
  const { port: own, origin, pathname } = new URL(served.address)
  return {
    ...served,
    out,
    port: Number(own),
    token: pathname.split('/')[1],
    ask: (path, { method = 'GET', body, headers = {} } = {}) =>
      fetch(served.address + path, {
        method,
        headers: {
          Origin: origin,
          ...(body === undefined ? {} : { 'Content-Type': 'application/json' }),
          ...headers,
        },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      }),
  }
}

/** Sends bytes as they are, which no client would, and returns all that comes back. */
export function send(port: number, lines: readonly string[], body = ''): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1')
    let text = ''
    socket.on('data', (bytes) => {
      text += bytes.toString('latin1')
    })
    socket.on('error', reject)
    socket.on('close', () => resolve(text))
    socket.write([...lines, 'Connection: close', '', body].join('\r\n'))
  })
}
