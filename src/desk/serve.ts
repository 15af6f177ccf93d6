// The desk's server: on this machine's own address only, behind its guard.
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import { getRequestListener } from '@hono/node-server'
import { Hono } from 'hono'
import { OffcutError } from '../errors.js'
import { shellOf } from './assets.js'
import { Desk, type DeskSetup } from './desk.js'
import { newToken, refusalOf, setHeaders } from './guard.js'
import { keepAddress, lastAddress } from './last-address.js'
import { routesOf } from './routes.js'

const ADDRESS = '127.0.0.1'

export interface Served {
  /** With its token: whoever has it may do all that the desk can. */
  readonly address: string
  /** Runs are stopped, states saved, connections ended. */
  close(): Promise<void>
}

/** @param port 0: the one of the folder's last desk, else any that is free @throws PORT_TAKEN, PORT_REFUSED, and as Desk.open */
export async function serveDesk(setup: DeskSetup, port: number): Promise<Served> {
  const desk = await Desk.open(setup)
  const last = await lastAddress(setup.out)
  const token = last?.token ?? newToken()
  const app = new Hono()
  app.get(`/${token}`, (c) => c.redirect(`/${token}/`, 308))
  app.get(`/${token}/`, async (c) => c.html(shellOf(await desk.begin())))
  app.route(`/${token}`, routesOf(desk))
  const listener = getRequestListener(app.fetch)
  const server = createServer((request, response) => {
    setHeaders(response)
    const { port: own } = server.address() as AddressInfo
    const refusal = refusalOf(request, { port: own, token })
    if (refusal === null) void listener(request, response)
    else refuse(request, response, refusal)
  })
  const listen = (at: number) =>
    new Promise<void>((listening, failed) => {
      server.once('error', failed)
      server.listen({ host: ADDRESS, port: at, exclusive: true }, () => {
        server.off('error', failed)
        listening()
      })
    })
  try {
    if (port === 0 && last !== null) await listen(last.port).catch(() => listen(0))
    else await listen(port)
  } catch (cause) {
    await desk.close()
    throw portError(port, cause as NodeJS.ErrnoException)
  }
  const { port: own } = server.address() as AddressInfo
  await keepAddress(setup.out, { port: own, token })
  return {
    address: `http://${ADDRESS}:${own}/${token}/`,
    close: async () => {
      const ended = new Promise((resolve) => server.close(resolve))
      await desk.close()
      server.closeAllConnections()
      await ended
    },
  }
}

/** An answer without a word where a word would help those who guess. */
function refuse(
  request: IncomingMessage,
  response: ServerResponse,
  { status, message }: { status: number; message?: string },
): void {
  request.resume()
  // What else it sends is not read.
  response.setHeader('Connection', 'close')
  if (message === undefined) {
    response.writeHead(status, { 'Content-Length': 0 }).end()
    return
  }
  const body = JSON.stringify({ error: { code: 'REFUSED', message } })
  response.writeHead(status, { 'Content-Type': 'application/json' }).end(body)
}

function portError(port: number, cause: NodeJS.ErrnoException): OffcutError {
  if (cause.code === 'EADDRINUSE')
    return new OffcutError(
      'PORT_TAKEN',
      `port ${port} is taken by another program: choose another --port, or leave it out for one that is free`,
      2,
      { cause },
    )
  return new OffcutError(
    'PORT_REFUSED',
    `port ${port} can't be listened on (${cause.code}): choose another --port, or leave it out for one that is free`,
    2,
    { cause },
  )
}
