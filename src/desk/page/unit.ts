// How much larger than on a usual screen letters and lines are drawn: large screens are looked at from further away.

/** Letters of the page over 16 CSS pixels. */
export function unit(): number {
  return Number.parseFloat(getComputedStyle(document.documentElement).fontSize) / 16
}
