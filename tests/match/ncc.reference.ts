// The slow twin of src/match/ncc.ts: the definition, two passes, double precision. Lewis 1995, eq. 2, with weights.

export interface Compared {
  readonly ncc: number
  readonly stops: number
  readonly residual: number
}

export function compare(
  target: ArrayLike<number>,
  donor: ArrayLike<number>,
  weight: ArrayLike<number>,
): Compared {
  let w = 0
  let mt = 0
  let md = 0
  for (let i = 0; i < weight.length; i++) {
    if (weight[i] === 0) continue
    w += weight[i]
    mt += weight[i] * target[i]
    md += weight[i] * donor[i]
  }
  mt /= w
  md /= w
  let tt = 0
  let dd = 0
  let td = 0
  let rr = 0
  for (let i = 0; i < weight.length; i++) {
    if (weight[i] === 0) continue
    const t = target[i] - mt
    const d = donor[i] - md
    tt += weight[i] * t * t
    dd += weight[i] * d * d
    td += weight[i] * t * d
    rr += weight[i] * (t - d) ** 2
  }
  return { ncc: td / Math.sqrt(tt * dd), stops: mt - md, residual: Math.sqrt(rr / w) }
}
