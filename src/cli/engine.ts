// How often the engine looks for garbage. Pictures lie outside its heap, which is small (25 MB) but counted together with
// them: grown by a tenth or so, as is usual, all of it is looked through for every third picture that is drawn.
import { setFlagsFromString } from 'node:v8'

/**
 * The heap may grow to four times of what was in use before garbage is looked for, on all threads. Drawing the sheet of 48
 * targets of 1920 x 1080 and 12 candidates then takes 23.4 s of processor instead of 31.6, and 55 MB more; ten times saves no
 * more. Four is the most that the engine itself would choose.
 */
const GROWING_PERCENT = 300

/** For a process that is ours: a library leaves this to who runs it. */
export function collectSeldom(): void {
  setFlagsFromString(`--heap-growing-percent=${GROWING_PERCENT}`)
}
