// What the compiled kernels export. AssemblyScript.
export { blur } from './blur'
export { boxMean, detailVariance, keepDetail } from './box'
export { undoPredictor } from './bytes'
export { cellDistances, cellProducts } from './cells'
export { addChange, addSteps, markSides } from './change'
export {
  addLent,
  addWhole,
  evened,
  gained,
  markHoles,
  meanLogs,
  multiplyField,
  putChannel,
  takeChannel,
  zeroHoles,
} from './channels'
export { clear } from './clear'
export { markOutliers, markWithin } from './compare'
export { cappedSquares, correlate, differ4, normalEquations } from './correlate'
export { cosineBlocks } from './dct'
export { sortSamples } from './digits'
export { differenceCodes, displayCodes } from './display'
export { tenBits } from './dpx'
export { addFinest, commonPixels, finestOf } from './finest'
export { addEdge, addTerminals, clearGraph, graphBytes, isSourceSide, layGraph, solveGraph } from './flow'
export { agreeingGroups } from './group'
export { halfLight, halfValues } from './half-light'
export { halfMeans } from './half-means'
export { huffman } from './huffman'
export { layInk } from './ink'
export { interleave } from './interleave'
export { layBlocks, layLabels, spreadLabels, sumBlocks } from './labels'
export { likelyWithout, tileDistances } from './lenders'
export { addLife } from './life'
export { powerLaw } from './light'
export { addFiltered, carryOn, layNoise, products } from './noise'
export { greenRoots, noiseSums } from './noise-level'
export { addEdges, layCovered } from './outline'
export { keepShifted, keepWithin } from './overshoot'
export { pairSums } from './pair-sums'
export { blocksIn, pairSumsOf, sumRows } from './pair-sums-of'
export { addGained, addScaled, channelSums, energySums, fitNoise, greenMean, layOver } from './patch'
export { connected, nextPiece } from './pieces'
export { differencesOver, gatherPlaces, means, placeFactors } from './places'
export { gradientSquares, halve, smooth, softSign, subtractBoxMean } from './planes'
export { addBand, logs, powers, refineRatio } from './ratio'
export { shift } from './shift'
export { shrunk } from './shrunk'
export { sortColumns } from './sort'
export { addChannelPower, addTilePower, tileDifferences, tileProducts } from './tiles'
export { askTrees, growTrees, treesRoom } from './trees'
export { warp } from './warp'
export { lookUp, undoWavelet } from './wavelet'
export { whiteNoise } from './white'
export { working } from './working'
