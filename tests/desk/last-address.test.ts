// Where a desk is served again. Truth: the addresses themselves, and the modes of a POSIX file.
import { chmodSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { runDesk, scratch } from './served.js'

const { folder, remove } = scratch('last-address')
afterAll(remove)
const file = (of: string) => join(folder, of, 'desk', '.address.json')
const servedIn = async (of: string) => {
  const desk = await runDesk(join(folder, of), [])
  await desk.close()
  return desk
}

describe('a desk that is started again', () => {
  test('has the address that it had, another folder’s has another', async () => {
    const first = await servedIn('a')
    const other = await servedIn('b')
    expect((await servedIn('a')).address).toBe(first.address)
    expect(other.token).not.toBe(first.token)
  })

  test('takes another port where its own is taken, and keeps its secret', async () => {
    const running = await runDesk(join(folder, 'c'), [])
    const beside = await servedIn('c')
    await running.close()
    expect(beside.port).not.toBe(running.port)
    expect(beside.token).toBe(running.token)
  })

  test.skipIf(process.platform === 'win32')('believes no file that others may read', async () => {
    const first = await servedIn('d')
    expect(statSync(file('d')).mode & 0o777).toBe(0o600)
    chmodSync(file('d'), 0o644)
    const second = await servedIn('d')
    expect(second.token).not.toBe(first.token)
    expect(statSync(file('d')).mode & 0o777).toBe(0o600)
  })

  test.each(['', '{}', 'no JSON', '{"port":0,"token":"x"}'])(
    'makes a new one of a file that says %j',
    async (text) => {
      const first = await servedIn('e')
      writeFileSync(file('e'), text)
      const second = await servedIn('e')
      expect(second.token).not.toBe(first.token)
      expect(JSON.parse(readFileSync(file('e'), 'utf8'))).toEqual({ port: second.port, token: second.token })
    },
  )
})
