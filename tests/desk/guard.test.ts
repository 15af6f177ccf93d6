// Who is listened to, by requests as they go over the wire. Outside truth: the rules for Host and Origin (RFC 9110 7.2,
// WHATWG Fetch 3.2) and what a preflight must answer before a browser sends more (WHATWG Fetch 4.8).
import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs'
import { networkInterfaces } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch, send } from './served.js'

const { folder, remove } = scratch('guard')
let desk: Running

beforeAll(async () => {
  const plate = join(folder, 'plates', 'quay')
  await plantPlate(plate, { frames: 2 })
  desk = await runDesk(folder, [plate])
})
afterAll(async () => {
  await desk.close()
  remove()
})

const status = (answer: string) => Number(/^HTTP\/1\.1 (\d+)/.exec(answer)?.[1])
const get = (host: string, path: string, ...more: string[]) =>
  send(desk.port, [`GET ${path} HTTP/1.1`, `Host: ${host}`, ...more])

test('both names of this machine are answered, and no other that was made to lead here', async () => {
  const { port, token } = desk
  for (const [host, wanted] of [
    [`127.0.0.1:${port}`, 200],
    [`localhost:${port}`, 200],
    [`quay.example:${port}`, 403],
    ['127.0.0.1', 403],
    [`127.0.0.1:${port + 1}`, 403],
    [`127.0.0.1:${port}.quay.example`, 403],
    [`[::1]:${port}`, 403],
    ['', 403],
  ] as const)
    expect([host, status(await get(host, `/${token}/shots`))]).toEqual([host, wanted])
  const none = await send(port, [`GET /${token}/shots HTTP/1.1`])
  expect(status(none)).toBe(400)
})

test('without its token there is nothing, and nothing is said', async () => {
  const { port, token } = desk
  const other = `${token.slice(0, -1)}${token.endsWith('A') ? 'B' : 'A'}`
  for (const path of [
    '/',
    '/shots',
    `/${other}/shots`,
    `/${token}x/shots`,
    `//${token}/shots`,
    `/x/../${token}/shots`,
  ]) {
    const answer = await get(`127.0.0.1:${port}`, path)
    expect([path, status(answer)]).toEqual([path, 404])
    expect(answer.split('\r\n\r\n')[1]).toBe('')
  }
  expect(Buffer.from(token, 'base64url').length).toBe(32)
})

test('only the own page changes anything', async () => {
  const { port, token } = desk
  const host = `127.0.0.1:${port}`
  const body = JSON.stringify({ plate: '/nowhere' })
  const post = (...headers: string[]) =>
    send(
      port,
      [`POST /${token}/shots HTTP/1.1`, `Host: ${host}`, `Content-Length: ${body.length}`, ...headers],
      body,
    )
  const json = 'Content-Type: application/json'
  // 404: it was let in, and the plate is not there.
  for (const [headers, wanted] of [
    [[json, `Origin: http://${host}`], 404],
    [[json, 'Sec-Fetch-Site: same-origin'], 404],
    [[json], 403],
    [[json, 'Origin: http://quay.example'], 403],
    [[json, 'Origin: null'], 403],
    [[json, `Origin: https://${host}`], 403],
    [[json, `Origin: http://localhost:${port}`], 403],
    [[json, 'Sec-Fetch-Site: cross-site'], 403],
    [[json, 'Origin: http://quay.example', 'Sec-Fetch-Site: same-origin'], 403],
    [[`Origin: http://${host}`, 'Content-Type: text/plain'], 400],
    [[`Origin: http://${host}`], 400],
  ] as const)
    expect([headers, status(await post(...headers))]).toEqual([headers, wanted])
  const read = await get(host, `/${token}/shots`, 'Origin: http://quay.example')
  expect(status(read)).toBe(403)
})

// W3C Fetch Metadata 2: what a browser says of a page on disk, or of any other site's, that leads here.
test('whoever knows the token may be led to the page, by reading alone', async () => {
  const { port, token } = desk
  const led = (method: string, path: string, site: string) =>
    send(port, [
      `${method} ${path} HTTP/1.1`,
      `Host: 127.0.0.1:${port}`,
      `Sec-Fetch-Site: ${site}`,
      'Sec-Fetch-Mode: navigate',
      'Sec-Fetch-Dest: document',
    ])
  for (const site of ['none', 'cross-site']) {
    expect(status(await led('GET', `/${token}/`, site))).toBe(200)
    expect(status(await led('GET', `/${'A'.repeat(43)}/`, site))).toBe(404)
    for (const method of ['POST', 'PUT', 'PATCH', 'DELETE'])
      expect([method, status(await led(method, `/${token}/shots/quay`, site))]).toEqual([method, 403])
  }
})

test('a preflight is answered by nothing that allows', async () => {
  const { port, token } = desk
  const answer = await send(port, [
    `OPTIONS /${token}/shots HTTP/1.1`,
    `Host: 127.0.0.1:${port}`,
    'Origin: http://quay.example',
    'Access-Control-Request-Method: PATCH',
  ])
  expect(status(answer)).toBe(404)
  expect(answer.toLowerCase()).not.toContain('access-control')
  expect(answer.split('\r\n\r\n')[1]).toBe('')
})

test('nothing outside of a shot is handed out, by dots or by links', async () => {
  const { port, token, out } = desk
  const host = `127.0.0.1:${port}`
  writeFileSync(join(folder, 'secret.txt'), 'secret')
  writeFileSync(join(out, 'beside.txt'), 'secret')
  mkdirSync(join(out, 'quay-other'))
  writeFileSync(join(out, 'quay-other', 'a.txt'), 'secret')
  writeFileSync(join(out, 'quay', '.hidden'), 'secret')
  writeFileSync(join(out, 'quay', 'own.txt'), 'own')
  symlinkSync(join(folder, 'secret.txt'), join(out, 'quay', 'link.txt'))
  symlinkSync(folder, join(out, 'quay', 'up'))
  symlinkSync(join(out, 'quay', 'own.txt'), join(out, 'quay', 'inner.txt'))
  const files = `/${token}/shots/quay/files`
  for (const path of [
    '../beside.txt',
    '..%2fbeside.txt',
    '%2e%2e/beside.txt',
    '%2e%2e%2fbeside.txt',
    '..%5cbeside.txt',
    '../quay-other/a.txt',
    './../beside.txt',
    'link.txt',
    'up/secret.txt',
    '.hidden',
    '/etc/hostname',
    '%2fetc/hostname',
    '',
    'x%00',
    'own.txt/x',
    '%ff',
  ]) {
    // biome-ignore format: a table
    const answer = await get(host, `${files}/${path}`)
    expect([path, status(answer)]).toEqual([path, 404])
    expect(answer).not.toContain('secret')
  }
  for (const path of ['own.txt', 'inner.txt']) expect(await get(host, `${files}/${path}`)).toContain('own')
  // A name that is no shot's is none, whatever it would lead to.
  for (const name of ['..%2fplates', '%2e%2e%2fplates', 'quay-other', 'quay%2f..'])
    expect([name, status(await get(host, `/${token}/shots/${name}`))]).toEqual([name, 404])
})

test('every answer forbids what no page of ours needs', async () => {
  const { port, token } = desk
  const host = `127.0.0.1:${port}`
  for (const path of [
    `/${token}/`,
    `/${token}/shots`,
    `/${token}/nothing`,
    '/',
    `/${token}/shots/quay/files/own.txt`,
  ]) {
    const answer = (await get(host, path)).toLowerCase()
    for (const header of [
      'referrer-policy: no-referrer',
      'x-content-type-options: nosniff',
      'cross-origin-resource-policy: same-origin',
      'cross-origin-opener-policy: same-origin',
      "default-src 'none'",
      "frame-ancestors 'self'",
    ])
      expect([path, answer.includes(header)]).toEqual([path, true])
    expect(answer).not.toContain('access-control')
  }
})

test('it listens on no address but its own', async () => {
  const other = Object.values(networkInterfaces())
    .flat()
    .find((at) => at?.family === 'IPv4' && !at.internal)
  if (other === undefined) return
  await expect(fetch(`http://${other.address}:${desk.port}/`)).rejects.toMatchObject({
    cause: { code: 'ECONNREFUSED' },
  })
})

test('a port that is taken is said in one sentence', async () => {
  await expect(runDesk(join(folder, 'second'), [], desk.port)).rejects.toMatchObject({
    code: 'PORT_TAKEN',
    message: `port ${desk.port} is taken by another program: choose another --port, or leave it out for one that is free`,
  })
})

test('only folders that were named, and the current one, are looked into', async () => {
  const names = async (at: string) => (await desk.ask(`folders?at=${encodeURIComponent(at)}`)).json()
  expect(await names(join(folder, 'plates'))).toMatchObject({
    at: join(folder, 'plates'),
    folders: [{ name: 'quay' }],
  })
  expect((await names(join(folder, 'plates', 'quay'))).plates).toEqual([
    {
      name: 'quay.####.png',
      spec: join(folder, 'plates', 'quay', 'quay.1001.png'),
      frames: 2,
    },
  ])
  symlinkSync('/', join(folder, 'plates', 'root'))
  for (const at of ['/', '/etc', join(folder, '..'), join(folder, 'plates', 'root', 'etc')])
    expect(await names(at)).toMatchObject({ error: { code: 'NOT_FOUND' } })
})
