// How the engine goes about a command's code and its garbage. Its own measures are for programs that run for hours.
import { setFlagsFromString } from 'node:v8'

/**
 * The heap may grow to four times of what was in use before garbage is looked for, on all threads: pictures lie outside it but
 * are counted together with it, and grown by a tenth or so, as is usual, all of it (25 MB) is looked through for every third
 * picture that is drawn. Drawing the sheet of 48 targets of 1920 x 1080 and 12 candidates then takes 23.4 s of processor
 * instead of 31.6, and 55 MB more; ten times saves no more. Four is the most that the engine itself would choose.
 */
const SELDOM_COLLECTED = '--heap-growing-percent=300'

/**
 * What a function calls is compiled into it up to this length of bytecode in all, where 920 is usual: loops over pixels are
 * kernels, and a find of some seconds spends a quarter of them on compiling.
 */
const LITTLE_INLINED = '--max-inlined-bytecode-size-cumulative=200'

/**
 * A function runs this much of its bytecode before it is compiled, four times the usual: what runs over pixels is kernels, which are not
 * counted, and the rest seldom runs for long. Against twice the usual 24 frames of 4096 x 2160 take 3.24 s of processor
 * instead of 3.45 (uncompressed) and 4.23 instead of 4.61 (ZIP), a second search with 24 targets among 120 frames of 1920 x 1080 8.53 instead of
 * 8.78 and five targets among the 265 of the plaza 8.89 instead of 8.90; eight times the usual saves less (the least of two to four, in turn, a
 * very busy machine). Node 22 counts otherwise, and has no such flag.
 */
const LATE_COMPILED = '--interrupt-budget=280000'

/**
 * A loop's first round is not compiled by itself. Of 24 frames of 4096 x 2160, uncompressed, a find takes 4.29 s of processor
 * instead of 4.39, of the 265 of the plaza 11.05 instead of 11.12 (the least of four and of three, in turn, Node 20).
 */
const LOOPS_AS_THEY_ARE = '--no-turbo-loop-peeling'

/**
 * Garbage is looked for when it is to be collected, not beside the work: what is in use is so little (12 to 50 MB) that looking
 * through it by steps, and at every write meanwhile, costs more. Of 24 frames of 4096 x 2160, uncompressed, a find takes 3.51 s on all threads
 * instead of 3.55 (medians of eight, in turn), of the 265 of the plaza 8.45 instead of 8.73 (of three), Node 20, in as much memory.
 */
const MARKED_AT_ONCE = '--no-incremental-marking'

/** For a process that is ours: a library leaves this to who runs it. */
export function runLean(): void {
  setFlagsFromString(SELDOM_COLLECTED)
  setFlagsFromString(LITTLE_INLINED)
  if (!process.versions.node.startsWith('20.')) return
  setFlagsFromString(LATE_COMPILED)
  setFlagsFromString(LOOPS_AS_THEY_ARE)
  setFlagsFromString(MARKED_AT_ONCE)
}
