// What the compiled kernels export. AssemblyScript.
export { correlate, sample4 } from './correlate'
export { halve, lessMean, shift, smooth, squash } from './planes'
export { working } from './working'
