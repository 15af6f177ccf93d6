// What the command line says of a patch, as commander has it.
import type { FeatherSide, PatchFormat } from '../../defaults.js'

export interface PatchFlags {
  readonly pick?: string
  readonly decisions?: string
  readonly out?: string
  readonly whole?: boolean
  readonly clean?: boolean
  readonly ratio?: boolean
  readonly strength?: number
  readonly fade?: string
  readonly feather?: number
  readonly featherSide: FeatherSide
  readonly nudge?: string
  readonly membrane?: boolean
  readonly regrain: boolean
  readonly format?: PatchFormat
  readonly look?: string
  readonly overwrite?: boolean
}

/** As they are given: of several results each has its own pick. */
export interface GivenFlags extends Omit<PatchFlags, 'pick'> {
  readonly pick?: readonly string[]
}
