import { createHash } from 'node:crypto'
import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { candidateTable } from '../../src/cli/table.js'
import type { Progress } from '../../src/progress.js'
import { csvText } from '../../src/sheet/data/csv.js'
import { type SheetOptions, writeSheet } from '../../src/sheet/sheet.js'
import {
  heronPictures,
  heronResult,
  quaysidePictures,
  quaysideResult,
  withCamera,
  withCuts,
} from './quayside.js'

/** A busy machine takes longer than vitest's five seconds over a dozen pictures. */
const PATIENCE = { timeout: 30_000 }

const HOSTILE = `quayside/<script>document.title='run'</script>"><img src=x onerror=alert(1)>&amp;\u202egnp.exr`

let folder: string
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-sheet-'))
})
afterAll(() => rm(folder, { recursive: true }))

async function written(
  name: string,
  result = quaysideResult({ candidates: 4, frames: 3 }),
  light = 1,
  options: SheetOptions = {},
) {
  const out = join(folder, name)
  const reports: Progress[] = []
  await writeSheet(out, result, quaysidePictures(result, light), {
    onProgress: (p) => reports.push(p),
    ...options,
  })
  return { out, reports, html: await readFile(join(out, 'sheet.html'), 'utf8'), png: join(out, 'sheet.png') }
}

describe('of a plate whose pixels are twice as wide as high', PATIENCE, () => {
  const squeezed = (name: string) => written(name, undefined, 1, { pixelAspect: 2 })

  test('the page shows every picture as it is projected, outline and all', async () => {
    const { html } = await squeezed('squeezed')
    const [square] = sizesOf((await written('unsqueezed')).html)
    const sizes = sizesOf(html)
    expect(sizes.length).toBeGreaterThan(15)
    for (const [w, h] of sizes) expect([w, h]).toEqual([2 * square[0], square[1]])
    for (const [, w] of html.matchAll(/<svg class="picture[^>]*><image href="data:[^"]+" width="([\d.]+)"/g))
      expect(Number(w)).toBe(2 * square[0])
    const outlines = html.match(/<path class="outline-under"/g)!
    expect(html.match(/<g transform="scale\(2 1\)"><path class="outline-under"/g)).toHaveLength(
      outlines.length,
    )
    // Numbers stay in the plate's own pixels.
    expect(html).toContain(`${quaysideResult({ candidates: 1, frames: 1 }).region.box[2]} × `)
  })

  test('so does sheet.png', async () => {
    const width = async (png: string) =>
      widthOfFirstPicture(await sharp(png).raw().toBuffer({ resolveWithObject: true }))
    const [wide, narrow] = [
      await width((await squeezed('squeezed-png')).png),
      await width((await written('unsqueezed-png')).png),
    ]
    // Both are as large as their room: what is wider is no higher than that allows.
    expect(wide.w / wide.h / (narrow.w / narrow.h)).toBeCloseTo(2, 1)
  })

  /** The view boxes of the rows' pictures. */
  function sizesOf(html: string): [number, number][] {
    return [...html.matchAll(/<svg class="picture[^"]*" viewBox="0 0 ([\d.]+) ([\d.]+)"/g)].map(
      ([, w, h]) => [Number(w), Number(h)],
    )
  }

  /** How far the first picture reaches from a point within it, to the ground that is one grey. */
  function widthOfFirstPicture({ data, info }: { data: Buffer; info: { width: number; channels: number } }) {
    const isGround = (x: number, y: number) => {
      const at = (y * info.width + x) * info.channels
      return [0, 1, 2].every((c) => Math.abs(data[at + c] - data[2 * info.width * info.channels]) < 2)
    }
    const [x, y] = [394, 200]
    let [right, bottom, left, top] = [x, y, x, y]
    while (!isGround(right, y)) right++
    while (!isGround(x, bottom)) bottom++
    while (!isGround(left, y)) left--
    while (!isGround(x, top)) top--
    return { w: right - left - 1, h: bottom - top - 1 }
  }
})

describe('sheet.png', PATIENCE, () => {
  test('shows target, donor, repaired and difference of every candidate on a neutral grey', async () => {
    const { png } = await written('png')
    const { data, info } = await sharp(png).raw().toBuffer({ resolveWithObject: true })
    const at = (x: number, y: number) => [
      ...data.subarray((y * info.width + x) * info.channels).subarray(0, 3),
    ]
    const [r, g, b] = at(2, 2)
    expect([g, b]).toEqual([r, r])
    // The pictures are told from the ground by their grain: along a line through the first row's pictures there are four.
    const y = 300
    const ground = (x: number) => at(x, y).every((v) => v === r)
    let pictures = 0
    let run = 0
    for (let x = 0; x < info.width; x++) {
      run = ground(x) ? 0 : run + 1
      if (run === 150) pictures++
    }
    expect(pictures).toBe(4)
  })

  test('draws where the frames look in its head where the camera moves, and nothing there where it stands', async () => {
    const still = quaysideResult({ candidates: 2, frames: 3 })
    const pale = async (png: string) => {
      const { data, info } = await sharp(png).raw().toBuffer({ resolveWithObject: true })
      let n = 0
      for (let y = 4; y < 146; y++)
        for (let x = info.width - 390; x < info.width; x++)
          if (data[(y * info.width + x) * info.channels] > 120) n++
      return n
    }
    expect(await pale((await written('still', still)).png)).toBe(0)
    // Outlines of a dozen frames of 250 by 140 pixels, a pixel wide.
    expect(await pale((await written('moving', withCamera(still))).png)).toBeGreaterThan(1500)
  })

  test('takes a hostile name as letters and nothing else', async () => {
    const named = await sharp((await written('named')).png)
      .raw()
      .toBuffer()
    const hostile = await sharp(
      (await written('hostile-png', quaysideResult({ candidates: 4, frames: 3, plate: HOSTILE }))).png,
    )
      .raw()
      .toBuffer()
    expect(hostile.length).toBe(named.length)
    expect(hostile.equals(named)).toBe(false)
  })
})

describe('sheet.html', PATIENCE, () => {
  test('names nothing outside itself', async () => {
    const { html } = await written('alone')
    const addresses = [...html.matchAll(/\b(?:src|href|action|data|poster|srcset)="([^"]*)"/g)].map(
      (m) => m[1],
    )
    expect(addresses.length).toBeGreaterThan(20)
    for (const address of addresses) expect(address).toMatch(/^(#|data:image\/)/)
    const [, style] = /<style>([\s\S]*?)<\/style>/.exec(html)!
    expect(style).not.toMatch(/url\(|@import/)
  })

  test('carries a policy that lets run only its own script and style', async () => {
    const { html } = await written('policy')
    const policy = /Content-Security-Policy" content="([^"]*)"/.exec(html)![1].replaceAll('&#39;', "'")
    expect(policy).toContain("default-src 'none'")
    expect(policy).not.toMatch(/unsafe|https?:|\*/)
    for (const element of ['style', 'script']) {
      const [, text] = new RegExp(`<${element}>([\\s\\S]*?)</${element}>`).exec(html)!
      expect(policy).toContain(`'sha256-${createHash('sha256').update(text).digest('base64')}'`)
    }
    expect(html).not.toMatch(/\sstyle="|\son[a-z]+="/)
  })

  test('takes hostile names as text', async () => {
    const { html } = await written(
      'hostile',
      quaysideResult({ candidates: 2, frames: 2, plate: HOSTILE, other: HOSTILE }),
    )
    expect(html).not.toContain("<script>document.title='run'")
    expect(html).not.toContain('<img src=x')
    expect(html).toContain('&lt;script>document.title=')
  })

  test('says how it went, for every way it can go', async () => {
    const best = await written('best', quaysideResult({ candidates: 2, frames: 4 }))
    expect(best.html).toContain('<h1>2 ways hold up over all 4 frames</h1>')
    const none = await written('none', quaysideResult({ candidates: 0 }))
    expect(none.html).toContain('<h1>No frame that could lend this region was found</h1>')
    expect(await readdir(none.out)).toEqual(['sheet.html', 'sheet.png'])
  })

  test('of nothing to compare says so, shows where the region lies, and draws no empty match matrix and no empty columns', async () => {
    const base = quaysideResult({ candidates: 0, frames: 2 })
    const own = base.target.frames.map((frame) => ({ plate: 0, frame }))
    // Of the target's own frames alone, each beside itself and the other.
    const alone = {
      targets: base.target.frames,
      donors: own,
      quality: [
        [null, 90],
        [90, null],
      ],
    }
    const lost = { ...base.matrix!, quality: base.matrix!.quality.map((row) => row.map(() => null)) }
    for (const [name, matrix] of [
      ['alone', alone],
      ['lost', lost],
    ] as const) {
      const { html, png } = await written(`nothing-${name}`, { ...base, matrix })
      expect(html).toContain('<p>No candidate: no other frame could be compared with the target.</p>')
      expect(html).not.toContain('Match matrix')
      expect(html).toMatch(/<details class="about" open/)
      // The heading and a line below it, where a row of pictures is 250 pixels high by itself.
      expect((await sharp(png).metadata()).height).toBeLessThan(250)
    }
    const { html } = await written('nothing-fits', base)
    expect(html).toContain('<p>No candidate: no donor fills the whole range.</p>')
    expect(html).toContain('Match matrix')
  })

  test('says and draws how the camera moved, and a donor’s zoom and roll', async () => {
    const moving = withCamera(quaysideResult({ candidates: 1, frames: 2 }))
    const { html } = await written('camera', moving)
    expect(html).toContain('The camera turns: homography, on the pixels of frame 1060')
    expect(html).toContain('Not followed on 1120-1123 of the plate')
    expect(html).toMatch(/<svg class="camera-path"/)
    expect(html).toMatch(/zoom<\/th><td[^>]*>\+2\.0 %/)
    const { html: still } = await written('standing', quaysideResult({ candidates: 1, frames: 2 }))
    expect(still).not.toMatch(/class="camera-path"|The camera|>zoom</)
  })

  test('shows the frames on which the mask cuts, with what is cut off marked', async () => {
    const { html } = await written('cuts', withCuts(quaysideResult({ candidates: 1, frames: 2 })))
    const [, shown] = /<section class="crossings"[^>]*>([\s\S]*?)<\/section>/.exec(html)!
    const said = [...shown.matchAll(/<figcaption>(.*?)<\/figcaption>/g)].map((m) =>
      m[1].replace(/<[^>]*>/g, ''),
    )
    expect(said).toEqual([
      'target 1060, 4 px beyond the lower edge',
      'target 1061, 5 px beyond the lower edge',
      'target 1061, more than 20 px beyond the right edge',
    ])
    expect(shown.match(/class="outline"/g)).toHaveLength(3)
    expect(shown.match(/class="outline marked"/g)).toHaveLength(3)
    expect((await written('no-cuts')).html).not.toContain('class="crossings"')
  })

  test('says which frames of a donor plate were asked for', async () => {
    const result = quaysideResult({ candidates: 1, frames: 1 })
    const [own, other] = result.donors
    const donors = [
      { ...own, asked: [1101, 1102] },
      { ...other, asked: [] },
    ]
    const { html } = await written('asked', { ...result, donors })
    const [, said] = /<dt>Donors<\/dt>([\s\S]*?)<\/dl>/.exec(html)!
    expect(said).toContain(`${own.plate}, 2 of its 160 frames, as asked: 1101-1102`)
    expect(said).toContain(`${other.plate}, none of its 48 frames, as asked`)
  })

  test('prints the ids, ranks, verdicts and numbers that the terminal and the CSV have', async () => {
    const result = quaysideResult({ candidates: 5, frames: 3 })
    // A whole score, a number that rounds to nought from below, one that is absent.
    Object.assign(result.candidates[1], { score: 83, stops: -0.0004, ncc: null })
    const { html } = await written('same', result)
    const text = (markup: string) => markup.replace(/<[^>]*>/g, '').trim()
    const lines = candidateTable(result).slice(1)
    // No cell of these columns has a comma in it.
    const [names, ...records] = csvText(result)
      .split('\r\n')
      .map((line) => line.split(','))
    for (const [i, { id, verdict }] of result.candidates.entries()) {
      const [, row] = new RegExp(`<tr data-row="way-${id.replace('+', 'plus')}">(.*?)</tr>`).exec(html)!
      const shown = [...row.matchAll(/<td[^>]*>(.*?)<\/td>/g)].map((m) => text(m[1]).replace(/[−–]/g, '-'))
      const [rank, mark, score, ncc, stops, seam, expected, clean] = shown
      expect(mark.slice(2)).toBe(verdict)
      const typed = lines[i].split(/ {2,}/).slice(0, 8)
      expect(typed).toEqual([id, score, verdict, ncc, stops, seam, expected, clean])
      const cell = (name: string) => records[i][names.indexOf(name)]
      expect([cell('rank'), cell('id'), cell('verdict')]).toEqual([rank, id, verdict])
      const figures = { score, ncc, stops, seam, expected_db: expected.replace(' dB', ''), clean }
      for (const [name, figure] of Object.entries(figures)) {
        if (figure === '-') expect(cell(name)).toBe('')
        else
          expect(
            Number(cell(name))
              .toFixed(figure.split('.')[1].length)
              .replace(/^-(?=[0.]*$)/, ''),
          ).toBe(figure.replace('+', ''))
      }
    }
    expect(lines[1]).toMatch(/^run\+48 +83\.0 +holds up +- +0\.00 /)
  })

  test('shows a plate brighter than any screen whole, and says by how much', async () => {
    const { html } = await written('bright', quaysideResult({ candidates: 1, frames: 1 }), 6)
    expect(html).toContain('1.7 stops darker than shot')
  })

  test('reports every candidate as it goes', async () => {
    const { reports } = await written('reports', quaysideResult({ candidates: 3, frames: 3 }))
    expect(reports.filter((r) => r.phase === 'drawing candidates').at(-1)).toMatchObject({
      done: 3,
      total: 3,
    })
    expect(reports.filter((r) => r.phase === 'drawing frames').map((r) => r.done)).toEqual([
      1, 2, 3, 4, 5, 6, 7, 8, 9,
    ])
  })
})

test(
  'a page has one minus sign, and what is typed or read by machines has the hyphen of a keyboard',
  PATIENCE,
  async () => {
    const plain = quaysideResult({ candidates: 2, frames: 2 })
    const why = 'the light is matched by -0.42 stops (-0.40 to -0.44), donors of 1001-1004 by run-49'
    const result = {
      ...plain,
      warnings: ['the mask is moved by -3 px: search again with --grow -2'],
      candidates: plain.candidates.map((c) => ({
        ...c,
        why,
        stops: -0.42,
        interval: [-8, 12] as [number, number],
      })),
    }
    const { html, out } = await written('minus', result)
    const shown = html.replace(/<(script|style)[\s\S]*?<\/\1>/g, '')
    const texts = [...shown.matchAll(/>([^<]+)<|(?:title|aria-label)="([^"]*)"/g)].map((m) => m[1] ?? m[2])
    expect(texts).toContain(
      'the light is matched by −0.42 stops (−0.40 to −0.44), donors of 1001-1004 by run-49',
    )
    expect(texts.some((text) => text.includes('moved by −3 px'))).toBe(true)
    expect(texts.some((text) => text.includes('between −8 and 12 dB'))).toBe(true)
    const typed = texts.map((text) => text.replace(/(^|--grow) -2$/, ''))
    expect(typed.filter((text) => /(^|[\s(])-\d/.test(text))).toEqual([])
    expect(shown).toContain('--grow -2')
    for (const machine of [csvText(result), candidateTable(result).join('\n')]) {
      expect(machine).toContain('matched by -0.42 stops (-0.40 to -0.44)')
      expect(machine).not.toContain('−')
    }
    expect(await readdir(out)).toContain('sheet.png')
  },
)

describe('the sheet of a borrow', PATIENCE, () => {
  test('shows the moment as frames round its peak, its ratio, the target with it applied, and its course', async () => {
    const result = heronResult()
    const out = join(folder, 'heron')
    await writeSheet(out, result, heronPictures(result))
    const html = await readFile(join(out, 'sheet.html'), 'utf8')
    const [, row] = /id="way-runplus66"([\s\S]*?)<\/article>/.exec(html)!
    const spoken = [...row.matchAll(/aria-label="([^"]*)"/g)].map((m) => m[1])
    expect(spoken).toContain('Target frame 1064, mask outlined')
    expect(spoken).toContain('Donor frame 1130 on the region, 0.62 stops darker at the peak')
    expect(spoken).toContain('Ratio to the reference state, 0.62 stops darker; mid grey is no change')
    expect(spoken).toContain('Target frame 1064 with it applied: holds up')
    const strip = spoken.filter((text) => /^Donor frame \d+(, the peak)?$/.test(text))
    expect(strip).toHaveLength(7)
    expect(strip).toContain('Donor frame 1130, the peak')
    // The mean of the region, which is not the depth that stands among the numbers: that is where it is deepest.
    expect(html).toContain('mean change of the region, stops')
    expect(spoken.find((text) => text.startsWith('mean change'))).toBe(
      'mean change from −0.62 on 1130 to 0.00 on 1120, over frames 1120 to 1140; 1126 to 1134 land on target 1060 to 1068',
    )
    expect(html).toContain('0.62 stops darker, 1127 to 1133, its peak 1130 on 1064')
  })

  test('shows and names the frame on which a lift is furthest from light, in the pictures and in the strip', async () => {
    const result = heronResult()
    const [heron] = result.candidates
    const worst = heron.frames[7].donor
    const moment = { ...heron.moment!, start: heron.frames[0].donor, end: heron.frames[8].donor, worst }
    expect(worst).not.toBe(moment.peak)
    const lorry = { ...result, candidates: [{ ...heron, moment }] }
    const out = join(folder, 'lorry')
    await writeSheet(out, lorry, heronPictures(lorry))
    const html = await readFile(join(out, 'sheet.html'), 'utf8')
    const spoken = [...html.matchAll(/aria-label="([^"]*)"/g)].map((m) => m[1])
    expect(spoken.some((text) => text.startsWith(`Donor frame ${worst} on the region`))).toBe(true)
    const strip = spoken.filter((text) => /^Donor frame \d+(, the (peak|worst))?$/.test(text))
    expect(strip).toHaveLength(7)
    expect(strip).toContain(`Donor frame ${worst}, the worst`)
    expect(strip).toContain(`Donor frame ${moment.peak}, the peak`)
    expect(html).toContain(`<b>${worst}</b>, the worst`)
  })

  test('marks what covers the surface as no change of light', async () => {
    const html = await readFile(join(folder, 'heron', 'sheet.html'), 'utf8')
    const [, row] = /id="way-runplus72"([\s\S]*?)<\/article>/.exec(html)!
    expect(row).toContain('something passing')
    expect(row).toContain('an object')
  })

  test('without any change found says so', async () => {
    const { html } = await written('no-heron', { ...heronResult(), candidates: [] })
    expect(html).toContain('<h1>No shadow or reflection to borrow was found</h1>')
  })
})
