// `npm run fuzz [-- iterations [seed]]`: broken frames, masks and result files, half of them EXR and DPX.
import { fuzzExrDpx } from './exr-dpx.js'
import type { FuzzReport } from './harness.js'
import { fuzzStills } from './stills.js'

const ITERATIONS = 20_000

export async function main(args: string[]): Promise<number> {
  const iterations = Number(args[0] ?? ITERATIONS)
  const seed = Number(args[1] ?? 1)
  const half = Math.ceil(iterations / 2)
  print('EXR and DPX', half, await fuzzExrDpx(half, seed))
  print('PNG, TIFF, JPEG, SVG, result.json', half, await fuzzStills(half, seed))
  return 0
}

function print(what: string, inputs: number, { read, refused, slowestMs, grownBytes }: FuzzReport): void {
  const codes = Object.entries(refused).map(([code, n]) => `${code} ${n}`)
  const grown = Math.round(grownBytes / 2 ** 20)
  console.log(
    `${what}: ${inputs} inputs, ${read} read, refused ${codes.join(', ')}; slowest ${Math.round(slowestMs)} ms, grown ${grown} MiB`,
  )
}
