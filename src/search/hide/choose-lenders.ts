// Which donors a mosaic is made of.
import type { Steps } from '../../turns.js'
import type { Lender, LenderTable } from './lenders.js'

/**
 * The donors that together cost least if every tile took its best: the one that saves most first, until another saves
 * less than `worthwhile`. What it chooses from is submodular, so that greed comes near the best (G. Nemhauser et al. 1978).
 */
export function* chooseLenders(
  table: LenderTable,
  lenders: readonly Lender[],
  most: number,
  worthwhile: number,
): Steps<Lender[], never> {
  const prices = lenders.map((lender) =>
    Float32Array.from({ length: table.tiles }, (_, tile) => table.tilePrice(lender, tile)),
  )
  // Nobody at all is dearer than anybody.
  const best = Float32Array.from(table.size, (size) => 1e6 * size)
  const chosen: Lender[] = []
  while (chosen.length < Math.min(most, lenders.length)) {
    yield
    let lead = -1
    let most = worthwhile
    for (const [k, price] of prices.entries()) {
      let saved = 0
      for (let tile = 0; tile < best.length; tile++) saved += Math.max(0, best[tile] - price[tile])
      if (saved <= most) continue
      most = saved
      lead = k
    }
    if (lead < 0) break
    chosen.push(lenders[lead])
    for (let tile = 0; tile < best.length; tile++) best[tile] = Math.min(best[tile], prices[lead][tile])
  }
  return chosen
}
