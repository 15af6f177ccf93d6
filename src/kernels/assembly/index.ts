// What the compiled kernels export. AssemblyScript.
export { blur } from './blur'
export { differing, near, pairSums } from './compare'
export { correlate, sample4 } from './correlate'
export { gradientSquares, halve, lessMean, shift, smooth, squash } from './planes'
export { addBand, logs, powers, refineRatio } from './ratio'
export { sortColumns } from './sort'
export { working } from './working'
