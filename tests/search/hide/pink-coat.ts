// A wall and a coat that luminance does not tell apart.
import { texturedWall, type Wall } from '../../synthetic.js'

const rough = texturedWall(6)

/** A tenth of the usual texture, so that nobody can tell a coat from it by its brightness. */
export const evenWall: Wall = (x, y) => 0.2 * (rough(x, y) / 0.2) ** 0.1

/** Of the wall's luminance, BT.709. */
export const PINK = [1.6, 0.82, 1.02] as const
