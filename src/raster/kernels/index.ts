// What the compiled kernels export. AssemblyScript.
export { differing, near, pairSums } from './compare'
export { correlate, sample4 } from './correlate'
export { gradientSquares, halve, lessMean, shift, smooth, squash } from './planes'
export { sortColumns } from './sort'
export { working } from './working'
