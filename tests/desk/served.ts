// A desk on a planted plate, served in this process, and requests of it as a page or as anybody else would send them.
import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
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
  const { port: own, pathname } = new URL(served.address)
  return {
    ...served,
    out,
    port: Number(own),
    token: pathname.split('/')[1],
    ask: asker(served.address),
  }
}

function asker(address: string): Running['ask'] {
  const { origin } = new URL(address)
  return (path, { method = 'GET', body, headers = {} } = {}) =>
    fetch(address + path, {
      method,
      headers: {
        Origin: origin,
        ...(body === undefined ? {} : { 'Content-Type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    })
}

const LAUNCHER = fileURLToPath(new URL('../../bin/offcut.js', import.meta.url))

export interface Started {
  readonly address: string
  readonly process: ChildProcess
  ask: Running['ask']
  /** As by Ctrl-C. @returns its exit code */
  interrupt(): Promise<number | null>
}

/** The desk as its command starts it: built, in a process of its own, with all its threads. */
export async function startDesk(folder: string, plates: readonly string[], out: string): Promise<Started> {
  const args = [LAUNCHER, 'desk', ...plates, '--out', out, '--no-open']
  const child = spawn(process.execPath, args, { cwd: folder, stdio: ['ignore', 'pipe', 'ignore'] })
  const address = await new Promise<string>((resolve, reject) => {
    let text = ''
    child.stdout.on('data', (bytes) => {
      text += bytes
      if (text.includes('\n')) resolve(text.slice(0, text.indexOf('\n')))
    })
    child.once('exit', (code) => reject(new Error(`the desk ended with ${code}`)))
  })
  return {
    address,
    process: child,
    ask: asker(address),
    interrupt: () =>
      new Promise((resolve) => {
        child.once('exit', resolve)
        child.kill('SIGINT')
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
