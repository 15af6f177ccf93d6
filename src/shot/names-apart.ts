// Plates by names that tell them apart: takes are often named alike, and lie in folders of their own.
import { sep } from 'node:path'
import type { Plate } from '../footage/plate.js'

type Named = Pick<Plate, 'name' | 'folder'>

/** @returns each plate's name, with as many of its folders before it as no other plate of that name has */
export function namesApart(plates: readonly Named[]): string[] {
  return plates.map((plate) => {
    const { name, folder } = plate
    const alike = plates.filter((other) => other.name === name && other.folder !== folder)
    if (alike.length === 0) return name
    let count = 1
    while (alike.some((other) => lastFolders(other, count) === lastFolders(plate, count))) count++
    return `${lastFolders(plate, count)}/${name}`
  })
}

function lastFolders({ folder }: Named, count: number): string {
  return folder.split(sep).slice(-count).join('/')
}
