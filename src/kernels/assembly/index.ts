// What the compiled kernels export. AssemblyScript.
export { blur } from './blur'
export { markOutliers, markWithin, pairSums } from './compare'
export { correlate, sample4 } from './correlate'
export { gradientSquares, halve, shift, smooth, softSign, subtractBoxMean } from './planes'
export { addBand, logs, powers, refineRatio } from './ratio'
export { sortColumns } from './sort'
export { warp } from './warp'
export { working } from './working'
