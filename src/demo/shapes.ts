// Shapes as signed distances (negative inside), and how much of a sample they cover. Lengths in stage units.

export function clamp(v: number, low: number, high: number): number {
  return Math.max(low, Math.min(high, v))
}

export function lerp(a: number, b: number, t: number): number {
  return a + (b - a) * t
}

/** 0 at `from`, 1 at `to`, smooth between; `from` may lie above `to`. */
export function ramp(from: number, to: number, v: number): number {
  const t = clamp((v - from) / (to - from), 0, 1)
  return t * t * (3 - 2 * t)
}

/** Share of a sample of width `soft` that lies inside a shape's edge at distance d. */
export function cover(d: number, soft: number): number {
  return clamp(0.5 - d / soft, 0, 1)
}

/** Share of a sample covered by a line of that half width; lines thinner than a sample keep their mean darkness. */
export function stroke(d: number, half: number, soft: number): number {
  return clamp((half + soft / 2 - Math.abs(d)) / soft, 0, Math.min(1, (2 * half) / soft))
}

/** Distance to a box with its centre at (cx, cy), half sizes hw and hh and corners rounded by `round`. */
export function box(x: number, y: number, cx: number, cy: number, hw: number, hh: number, round = 0): number {
  const qx = Math.abs(x - cx) - hw + round
  const qy = Math.abs(y - cy) - hh + round
  const ox = Math.max(qx, 0)
  const oy = Math.max(qy, 0)
  return Math.sqrt(ox * ox + oy * oy) + Math.min(Math.max(qx, qy), 0) - round
}

/** Distance to a box given by its edges. */
export function slab(x: number, y: number, left: number, top: number, right: number, bottom: number): number {
  return box(x, y, (left + right) / 2, (top + bottom) / 2, (right - left) / 2, (bottom - top) / 2)
}

export function circle(x: number, y: number, cx: number, cy: number, r: number): number {
  const dx = x - cx
  const dy = y - cy
  return Math.sqrt(dx * dx + dy * dy) - r
}

/** About the distance to an ellipse: exact on its outline, scaled by the gradient near it. */
export function ellipse(x: number, y: number, cx: number, cy: number, rx: number, ry: number): number {
  const px = (x - cx) / rx
  const py = (y - cy) / ry
  const k = Math.sqrt(px * px + py * py)
  if (k < 1e-6) return -Math.min(rx, ry)
  const g = Math.sqrt((px * px) / (rx * rx) + (py * py) / (ry * ry))
  return (k * (k - 1)) / g
}

/** Distance to a limb from a to b whose radius runs from ra to rb. */
export function limb(
  x: number,
  y: number,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  ra: number,
  rb: number,
): number {
  const ex = bx - ax
  const ey = by - ay
  const long = ex * ex + ey * ey
  const t = long > 0 ? clamp(((x - ax) * ex + (y - ay) * ey) / long, 0, 1) : 0
  const dx = x - ax - t * ex
  const dy = y - ay - t * ey
  return Math.sqrt(dx * dx + dy * dy) - ra - (rb - ra) * t
}

/** The union of two shapes with the corner between them filled over a length k. */
export function join(a: number, b: number, k: number): number {
  const h = Math.max(k - Math.abs(a - b), 0) / k
  return Math.min(a, b) - (h * h * k) / 4
}
