// Which channels of which part of an EXR file are the picture. Layer names: openexr.com, "Technical Introduction", Layers.
import { option, plateError } from '../../errors.js'
import { bad, type Channel, type ExrHeader, type Part } from './header.js'

/** The picture to read. `channels` index into the part's list. */
export interface Picture {
  readonly part: Part
  /** rgb: three channels; grey: one; chroma: Y, RY, BY (luminance and two colour differences relative to it). */
  readonly kind: 'rgb' | 'grey' | 'chroma'
  readonly channels: readonly number[]
  /** The same layer's alpha beside the colours, an index likewise; null where there is none. */
  readonly alpha: number | null
  /** Of the colours, then of the alpha. */
  readonly names: readonly string[]
}

interface Layer {
  readonly name: string
  readonly part: Part
  /** Channel index by the name's last part, upper case. */
  readonly channels: ReadonlyMap<string, number>
}

/** Names that `layer` takes for this file: all layers but the unnamed one of a single-part file. */
export function layerNames(header: ExrHeader): string[] {
  return layersOf(header).flatMap(({ name }) => (name === '' ? [] : [name]))
}

/**
 * The picture of a layer; without a layer the main one: unnamed channels R, G and B, or Y with or without colour
 * differences, of the first part that has them. Where a file has none of these, its one layer that could be the picture.
 *
 * @throws LAYER_UNKNOWN with the list of layers; LAYER_AMBIGUOUS with those that could be meant; BadFile where the file
 *   holds no picture
 */
export function choosePicture(header: ExrHeader, path: string, layer: string | undefined): Picture {
  const layers = layersOf(header)
  if (layer !== undefined) {
    const found = layers.find(({ name, part }) => name === layer || `${part.name}.${name}` === layer)
    if (found === undefined) throw unknownLayer(path, layer, layerNames(header))
    const picture = pictureOf(found)
    if (picture !== null) return picture
    const names = found.part.channels.map((c) => c.name).join(', ')
    const problem = `has no picture in layer "${layer}" (its channels are ${names})`
    throw plateError('LAYER_UNKNOWN', path, problem, 'choose a layer with R, G and B, or with one channel')
  }
  const pictures = layers.flatMap(({ name }, i) => {
    const picture = pictureOf(layers[i]!)
    return picture === null ? [] : [{ ...picture, name, first: picture.names[0]! }]
  })
  const colours = pictures.filter((p) => p.kind !== 'grey')
  // X, Y and Z are as often normals or positions as a colour
  const main =
    colours.find((p) => !p.first.includes('.') && p.first.toUpperCase() !== 'X') ??
    pictures.find((p) => p.first === 'Y')
  if (main !== undefined) return main
  const possible = colours.length > 0 ? colours : pictures
  if (possible.length > 1) throw ambiguousLayer(path, possible)
  if (possible[0] !== undefined) return possible[0]
  if (header.parts.every((part) => part.deep)) throw bad('holds deep samples only, no flat picture')
  const names = header.parts.flatMap((part) => part.channels.map((c) => c.name)).slice(0, 20)
  throw bad(`holds no picture: its channels are ${names.join(', ')}`)
}

function ambiguousLayer(path: string, possible: readonly (Picture & { readonly name: string })[]): Error {
  const listed = possible.map(({ name, names }) => `${name || 'unnamed'} (${names.join(', ')})`).join('; ')
  const named = possible.find(({ name }) => name !== '')!.name
  const problem = `has no main picture, and ${possible.length} layers could be meant: ${listed}`
  const remedy = `name one of them, such as ${option('layer')} ${named}`
  return plateError('LAYER_AMBIGUOUS', path, problem, remedy, { exitCode: 2 })
}

function unknownLayer(path: string, layer: string, names: readonly string[]): Error {
  const remedy = names.length === 0 ? 'leave `layer` out' : `choose one of ${names.join(', ')}`
  const problem = `has no layer "${layer}"${names.length === 0 ? ' and no named layers at all' : ''}`
  return plateError('LAYER_UNKNOWN', path, problem, remedy, { exitCode: 2 })
}

/** Layers in file order: per part, one for every prefix up to a channel name's last dot. */
function layersOf(header: ExrHeader): Layer[] {
  const layers: Layer[] = []
  for (const part of header.parts) {
    if (part.deep) continue
    const prefixes = new Map<string, Map<string, number>>()
    part.channels.forEach((channel, i) => {
      const dot = channel.name.lastIndexOf('.')
      const prefix = channel.name.slice(0, Math.max(0, dot))
      const channels = prefixes.get(prefix) ?? new Map<string, number>()
      channels.set(channel.name.slice(dot + 1).toUpperCase(), i)
      prefixes.set(prefix, channels)
    })
    for (const [prefix, channels] of prefixes) layers.push({ name: prefix || part.name, part, channels })
  }
  return layers
}

const COLOURS = [
  ['R', 'G', 'B'],
  ['RED', 'GREEN', 'BLUE'],
  ['Y', 'RY', 'BY'],
  ['X', 'Y', 'Z'],
] as const

function pictureOf({ part, channels }: Layer): Picture | null {
  const indices = (names: readonly string[]): number[] => names.flatMap((name) => channels.get(name) ?? [])
  const alpha = indices(['A'])
  const make = (kind: Picture['kind'], wanted: readonly number[]): Picture => ({
    part,
    kind,
    channels: wanted,
    alpha: alpha[0] ?? null,
    names: [...wanted, ...alpha].map((i) => part.channels[i]!.name),
  })
  for (const names of COLOURS) {
    const found = indices(names)
    if (found.length < 3) continue
    if (names[1] === 'RY') return make('chroma', found)
    // colour channels of different resolution are no RGB picture that anybody writes
    const [first, ...others] = found.map((i) => part.channels[i]!) as [Channel, ...Channel[]]
    if (others.every((c) => c.xSampling === first.xSampling && c.ySampling === first.ySampling))
      return make('rgb', found)
  }
  const grey = indices(['Y'])
  if (grey.length === 1) return make('grey', grey)
  const rest = [...channels.values()].filter((i) => !alpha.includes(i))
  if (rest.length === 1) return make('grey', rest)
  return rest.length === 0 && alpha.length === 1
    ? { part, kind: 'grey', channels: alpha, alpha: null, names: ['A'] }
    : null
}
