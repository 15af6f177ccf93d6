// The match matrix under the pointer, or under the arrow keys: which frames, how good, which candidate.
interface Cells {
  readonly across: number
  readonly down: number
  /** grey as in the picture: 0 not comparable, else 24 + 2.2 * quality */
  readonly grey: Uint8ClampedArray
}

export function wireMatrix(): void {
  const frame = document.getElementById('matrix-frame')
  const picture = frame?.querySelector<SVGSVGElement>('.matrix-picture')
  const image = picture?.querySelector('image')
  const readout = document.getElementById('matrix-readout')
  const cursor = picture?.querySelector('.matrix-cursor')
  if (!frame || !picture || !image || !readout || !cursor) return
  const donors = JSON.parse(frame.dataset.donors!) as readonly [plate: number, first: number, count: number][]
  const targets = JSON.parse(frame.dataset.targets!) as readonly number[]
  frame.tabIndex = 0
  let cells: Cells | undefined
  let [x, y] = [0, 0]

  const tell = async (nextX: number, nextY: number) => {
    cells ??= await readCells(image)
    x = Math.min(cells.across - 1, Math.max(0, nextX))
    y = Math.min(cells.down - 1, Math.max(0, nextY))
    cursor.setAttribute('d', `M${x} ${y}h1v1h-1z`)
    const grey = cells.grey[4 * (y * cells.across + x)]
    const quality = grey < 24 ? 'not comparable' : `${Math.round((grey - 24) / 2.2)} of 100`
    readout.textContent = `target ${targets[y]}, donor ${donorFrame(donors, x)}: ${quality}`
  }

  picture.addEventListener('pointermove', (event) => {
    const { left, top, width, height } = picture.getBoundingClientRect()
    tell(
      Math.floor(((event.clientX - left) / width) * donorCount(donors)),
      Math.floor(((event.clientY - top) / height) * targets.length),
    )
  })
  frame.addEventListener('keydown', (event) => {
    if (event.target !== frame) return
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key]
    if (!step) return
    event.preventDefault()
    const far = event.shiftKey ? 10 : 1
    tell(x + far * step[0], y + far * step[1])
  })
  const names = namesOf(picture)
  for (const link of picture.querySelectorAll('a')) {
    const say = () => {
      readout.textContent = names.get(hrefOf(link))!
    }
    link.addEventListener('focus', say)
    link.addEventListener('pointermove', (event) => {
      event.stopPropagation()
      say()
    })
  }
  // A jump to a candidate that a filter hides would lead nowhere.
  picture.addEventListener('click', (event) => {
    const link = (event.target as Element).closest('a')
    const row = link && document.getElementById(hrefOf(link).slice(1))
    if (row?.hidden) {
      event.preventDefault()
      readout.textContent = `${names.get(hrefOf(link!))}: hidden by the kinds and verdicts chosen`
    } else row?.focus()
  })
}

/** By where it leads: of the two links of a line, the one for keys alone has a name. */
function namesOf(picture: SVGSVGElement): ReadonlyMap<string, string> {
  const named = [...picture.querySelectorAll('a[aria-label]')]
  return new Map(named.map((link) => [hrefOf(link), link.getAttribute('aria-label')!]))
}

function hrefOf(link: Element): string {
  return link.getAttribute('href')!
}

function donorCount(donors: readonly (readonly [number, number, number])[]): number {
  return donors.reduce((sum, [, , count]) => sum + count, 0)
}

/** The frame number of a column; columns are runs of consecutive frames. */
function donorFrame(donors: readonly (readonly [number, number, number])[], column: number): number {
  let left = column
  for (const [, first, count] of donors) {
    if (left < count) return first + left
    left -= count
  }
  return Number.NaN
}

async function readCells(image: SVGImageElement): Promise<Cells> {
  const picture = new Image()
  picture.src = image.href.baseVal
  await picture.decode()
  const canvas = document.createElement('canvas')
  canvas.width = picture.naturalWidth
  canvas.height = picture.naturalHeight
  const context = canvas.getContext('2d')!
  context.drawImage(picture, 0, 0)
  const { data } = context.getImageData(0, 0, canvas.width, canvas.height)
  return { across: canvas.width, down: canvas.height, grey: data }
}
