// Against the same told straight in double precision, rounded where it is stored.
import { describe, expect, test } from 'vitest'
import {
  addGained,
  addScaled,
  channelSums,
  energySums,
  fitNoise,
  greenMean,
  layOver,
} from '../../src/kernels/patch.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const SIZES = [1, 3, 4, 7, 64, 1021]

/** The slow twin of a pixel, as `src/repair/grain/fit.ts` tells it. */
function fitted(
  sigma: number,
  own: number,
  energy: number,
  share: number,
  { change, absent, carried }: { change: number; absent: number; carried: number },
): [stays: number, fresh: number, lasting: number] {
  const [wanted, lost] = [change * sigma ** 2, absent * sigma ** 2]
  const whole = Math.max(energy, own, wanted)
  const isFull = own + wanted >= whole
  const room = Math.min(whole - own, Math.max(lost, wanted))
  const lasts = isFull || carried === 0 ? 0 : Math.min(lost, (room - wanted) / carried)
  const made = isFull ? wanted : Math.max(0, wanted - (1 - carried) * lasts)
  const stays = isFull && own > 0 ? Math.min(1, Math.sqrt((whole - made) / own)) : 1
  const fresh = wanted > 0 ? Math.sqrt(made / wanted) : 0
  const lasting = lost > 0 ? Math.sqrt(Math.max(0, lasts) / lost) : 0
  return [1 - share * (1 - stays), share * fresh, share * lasting]
}

describe.each(SIZES)('of %i pixels', (length) => {
  const random = randomFrom(`patch ${length}`)
  const made = (scale = 1) => Float32Array.from({ length }, () => scale * random())
  /** In runs, as masks are. */
  const alpha = made().map((v, i) => (i % 23 < 8 ? 0 : i % 23 < 15 ? 1 : v))
  const workspace = new Workspace()

  test.each([
    { title: 'all over', piece: null, where: null, carried: 0.4 },
    { title: 'in pieces', piece: made(), where: null, carried: 0 },
    { title: 'at its places', piece: made(), where: made(3), carried: 1 },
  ])('noise takes what there is room for, $title', ({ piece, where, carried }) => {
    const [strength, own, energy] = [made(0.1), made(0.01), made(0.02)]
    own[0] = energy[length >> 1] = 0
    const noise = { change: 0.7, absent: 0.9, carried }
    const takings = { stays: made(), fresh: made(), lasting: made() }
    fitNoise(workspace, { strength, where, own, energy, alpha, piece }, noise, takings)
    for (let i = 0; i < length; i++) {
      const share = alpha[i] > 0 ? (piece?.[i] ?? 1) : 0
      const wanted = fitted(strength[i] * (where?.[i] ?? 1), own[i], energy[i], share, noise)
      const found = [takings.stays[i], takings.fresh[i], takings.lasting[i]]
      for (const [k, v] of wanted.entries()) expect(Math.abs(found[k] - v)).toBeLessThan(2e-7)
    }
  })

  test.each([null, Uint8Array.from({ length }, (_, i) => (i % 5 === 0 ? 1 : 0))])(
    'sums are over what is covered altogether',
    (out) => {
      const [own, energy] = [made(), made(1e-6)]
      let [a, b] = [0, 0]
      for (let i = 0; i < length; i++)
        if (alpha[i] === 1 && out?.[i] !== 1) {
          a += own[i]
          b += energy[i]
        }
      expect(energySums(workspace, own, energy, alpha, out)).toEqual([a, b])
    },
  )

  test('the mean of green leaves out what is not finite, and what is not covered', () => {
    const rgb = Float32Array.from({ length: 3 * length }, () => random())
    if (length > 40) rgb[3 * 10 + 1] = Number.POSITIVE_INFINITY
    if (length > 40) rgb[3 * 11 + 1] = Number.NaN
    const told = [...alpha].flatMap((a, i) =>
      a > 0 && Number.isFinite(rgb[3 * i + 1]) ? [rgb[3 * i + 1]] : [],
    )
    const mean = told.length > 0 ? told.reduce((sum, v) => sum + v, 0) / told.length : 0
    expect(greenMean(workspace, rgb, alpha)).toBe(mean)
  })

  test('a picture is added as its channels are multiplied', () => {
    const [picture, into] = [0, 1].map(() => Float32Array.from({ length: 3 * length }, () => random() - 0.5))
    const gain = [1.1, 0.7, 1.3] as const
    const wanted = into.map((v, i) => v + 0.37 * Math.fround(Math.fround(gain[i % 3]) * picture[i]))
    addGained(workspace, picture, gain, 0.37, into)
    expect(into).toEqual(wanted)
  })

  test('channels are added up where a pixel counts as 1', () => {
    const rgb = Float32Array.from({ length: 3 * length }, () => random() - 0.2)
    const counts = Float32Array.from({ length }, () => Math.floor(3 * random()) / 2)
    const sums = [0, 0, 0]
    for (let i = 0; i < length; i++)
      if (counts[i] === 1) for (let c = 0; c < 3; c++) sums[c] += rgb[3 * i + c]
    expect(channelSums(workspace, rgb, counts)).toEqual(sums)
  })

  test.each([null, made()])('a field is added by its shares', (share) => {
    const [field, into] = [made(), made()]
    const wanted = into.map((v, i) => v + (share?.[i] ?? 1) * 0.37 * field[i])
    addScaled(workspace, field, share, 0.37, into)
    expect(into).toEqual(wanted)
  })

  test('a patch is mixed in by its alpha, and covers what is not finite', () => {
    const [patch, under] = [0, 1].map(() => Float32Array.from({ length: 3 * length }, () => random() - 0.2))
    under[0] = -0
    if (length > 40) under.set([Number.NaN, Number.POSITIVE_INFINITY], 3 * 20)
    const wanted = under.map((below, j) => {
      const a = alpha[Math.floor(j / 3)]
      if (a === 0) return below
      return a === 1 || !Number.isFinite(below) ? patch[j] : a * patch[j] + (1 - a) * below
    })
    const out = new Float32Array(3 * length)
    layOver(workspace, patch, alpha, under, out)
    for (let j = 0; j < out.length; j++) expect(Object.is(out[j], wanted[j])).toBe(true)
  })
})
