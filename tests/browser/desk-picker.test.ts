// Picking a plate where one name may mean several. Truth: the folders' own files.
import { cpSync, mkdirSync, readdirSync, renameSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { OpenedShot } from '../../src/desk/messages.js'
import { plantPlate } from '../synthetic.js'
import { inDesk } from './desk-page.js'
import { violations } from './violations.js'

inDesk('a folder with two sequences in it', (bench) => {
  test('is a choice in the list, and one clear sentence where it is typed', async () => {
    const both = join(bench.folder(), 'plates', 'both')
    const alone = join(bench.folder(), 'alone')
    mkdirSync(both, { recursive: true })
    cpSync(bench.plate(), both, { recursive: true })
    await plantPlate(alone, { frames: 5 })
    for (const name of readdirSync(alone))
      renameSync(join(alone, name), join(both, name.replace('quay', 'pier')))
    const page = await bench.open()
    await page.getByRole('heading', { name: 'Open a plate' }).waitFor()

    // The console tells of every request that fails.
    page.removeAllListeners('console')
    await page.getByLabel('A folder, one of its frames').fill(both)
    await page.getByRole('button', { name: 'Open', exact: true }).click()
    const said = page.locator('.picker .trouble')
    await said.waitFor()
    const text = (await said.textContent())!
    expect(text).toContain('2 sequences')
    expect(text).toContain('pier')
    expect(text).toContain('quay')
    expect(await violations(page)).toEqual([])

    // The list goes down to it, and has one entry for each.
    await page.getByRole('button', { name: `${bench.folder()}/` }).click()
    await page.getByRole('button', { name: 'plates/' }).click()
    await page.getByRole('button', { name: 'both/' }).click()
    await page.getByRole('button', { name: /^quay.*12 frames/ }).waitFor()
    await page.getByRole('button', { name: /^pier.*5 frames/ }).click()
    await page.locator('.picture-room').waitFor()
    const [name] = page.url().split('#/').slice(-1)
    const { plates } = (await (await bench.desk().ask(`shots/${name}`)).json()) as OpenedShot
    expect(plates[0]!.frames).toEqual([1001, 1002, 1003, 1004, 1005])
    expect(plates[0]!.name).toContain('pier')
  })
})
