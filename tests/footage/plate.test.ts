import { mkdir, readdir, symlink, unlink } from 'node:fs/promises'
import { basename, join, relative } from 'node:path'
import { describe, expect, test } from 'vitest'
import { ENCODINGS } from '../../src/colour/encoding.js'
import { option } from '../../src/errors.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { FRAME_EXTENSIONS } from '../../src/footage/readers.js'
import { folderOf, freshFolder, greyPng, put } from './folder.js'

const QUAY = ['quay.1001.png', 'quay.1002.png', 'quay.1003.png', 'quay.1007.png']
const RECT = { x: 1, y: 1, w: 3, h: 2 }

const refusal = (code: string, exitCode: number, message: unknown) =>
  expect.objectContaining({ name: 'OffcutError', code, exitCode, message })

describe('a plate opens by', () => {
  const FORMS: readonly [title: string, form: (folder: string) => string][] = [
    ['its folder', (folder) => folder],
    ['its folder with a slash', (folder) => `${folder}/`],
    ['its folder from the working directory', (folder) => relative(process.cwd(), folder)],
    ['its first frame', (folder) => join(folder, 'quay.1001.png')],
    ['any of its frames', (folder) => join(folder, 'quay.1003.png')],
    ['printf', (folder) => join(folder, 'quay.%04d.png')],
    ['printf without padding', (folder) => join(folder, 'quay.%d.png')],
    ['####', (folder) => join(folder, 'quay.####.png')],
    ['#', (folder) => join(folder, 'quay.#.png')],
    ['a glob', (folder) => join(folder, 'quay.*.png')],
    ['a glob with a set', (folder) => join(folder, 'quay.1??[1-7].png')],
  ]
  test.each(FORMS)('%s, and its spec opens the same plate again', async (_, form) => {
    const folder = await folderOf(QUAY)
    const plate = await openPlate(form(folder))
    expect(plate).toMatchObject({
      name: 'quay.####.png',
      folder,
      frames: [1001, 1002, 1003, 1007],
      first: 1001,
      last: 1007,
      gaps: [{ first: 1004, last: 1006 }],
      width: 6,
      height: 4,
      pixelAspect: 1,
      format: 'png',
      bitDepth: '8-bit',
      encoding: 'srgb',
    })
    expect(plate.pathOf(1003)).toBe(join(folder, 'quay.1003.png'))
    const again = await openPlate(plate.spec)
    const told = (of: typeof plate) => JSON.stringify(of)
    expect(told(again)).toBe(told(plate))
  })

  test('a glob over part of its frames', async () => {
    const folder = await folderOf(QUAY)
    const plate = await openPlate(join(folder, 'quay.100[12].png'))
    expect(plate.frames).toEqual([1001, 1002])
    expect((await openPlate(plate.spec)).frames).toEqual([1001, 1002])
  })

  test('a glob over folders', async () => {
    const folder = await folderOf(['left/quay.1001.png', 'right/quay.1001.png'])
    expect((await openPlate(join(folder, 'le*', '*.png'))).folder).toBe(join(folder, 'left'))
  })
})

describe('awkward names', () => {
  const AWKWARD = [
    'with space',
    `it's "quoted"`,
    '🙂 quay',
    'new\nline',
    '[a-z]*',
    '{a,b}',
    '50%',
    '%04d',
    '####',
    '!(x)',
    'a&b;c$d`e',
    '-0001',
  ]
  test.each(AWKWARD.map((name) => [name] as const))('a folder and frames called %j', async (name) => {
    const folder = await folderOf([`${name}/${name}.0001.png`, `${name}/${name}.0002.png`])
    const inside = join(folder, name)
    for (const spec of [inside, join(inside, `${name}.0002.png`)]) {
      const plate = await openPlate(spec)
      expect(plate.frames).toEqual([1, 2])
      expect((await openPlate(plate.spec)).frames).toEqual([1, 2])
      expect((await readRect(plate, 2, RECT)).shape).toEqual([2, 3, 3])
    }
  })

  test('a pattern and a glob inside a folder whose name has glob characters', async () => {
    const folder = await folderOf(['[a]*/quay.0001.png', '[a]*/quay.0002.png', 'a/quay.0003.png'])
    for (const last of ['quay.####.png', 'quay.%04d.png', 'quay.*.png']) {
      expect((await openPlate(join(folder, '[a]*', last))).frames).toEqual([1, 2])
    }
  })

  test('a file that is called like a pattern is that file', async () => {
    const folder = await folderOf(['quay.####.png', 'quay.0001.png', 'quay.0002.png'])
    const still = await openPlate(join(folder, 'quay.####.png'))
    expect(basename(still.pathOf(still.first))).toBe('quay.####.png')
    const plate = await openPlate(folder)
    expect(plate.frames).toEqual([1, 2])
    expect((await openPlate(plate.spec)).frames).toEqual([1, 2])
  })

  test('a message shows control characters, it does not send them', async () => {
    const folder = await folderOf(['bell\u0007\u001b[J.png', 'b.png'])
    await expect(openPlate(folder)).rejects.toThrow(/bell\\u0007\\u001b\[J\.png/)
  })
})

describe('numbers', () => {
  test.each([
    [['q.0000.png'], [0]],
    [
      ['q.-0002.png', 'q.-0001.png', 'q.0000.png'],
      [-2, -1, 0],
    ],
    [
      ['q.86400000.png', 'q.86400001.png'],
      [86400000, 86400001],
    ],
    [
      ['q.9.png', 'q.10.png', 'q.0011.png'],
      [9, 10, 11],
    ],
  ])('%j are frames %j', async (files, frames) => {
    const plate = await openPlate(await folderOf(files))
    expect(plate.frames).toEqual(frames)
    for (const frame of frames) expect((await readRect(plate, frame, RECT)).shape).toEqual([2, 3, 3])
    expect((await openPlate(plate.spec)).frames).toEqual(frames)
  })
})

describe('what lies beside a plate does not disturb it', () => {
  test('text, thumbnails, hidden files, folders and links', async () => {
    const folder = await folderOf([
      ...QUAY,
      'notes.txt',
      'Thumbs.db',
      '.DS_Store',
      '._quay.1001.png',
      'thumb.png',
      'contact-1.png',
      'quay.1001.png.tmp',
      'proxy/quay.1001.png',
    ])
    await symlink('quay.1007.png', join(folder, 'quay.1008.png'))
    expect((await openPlate(folder)).frames).toEqual([1001, 1002, 1003, 1007, 1008])
  })

  test('reading leaves the folder as it was', async () => {
    const folder = await folderOf(QUAY)
    const before = await readdir(folder)
    const plate = await openPlate(folder)
    await readRect(plate, 1001, RECT)
    expect(await readdir(folder)).toEqual(before)
  })

  test('a picture without a number is a plate of one frame', async () => {
    const folder = await folderOf(['clean.png', 'other.png'])
    const plate = await openPlate(join(folder, 'clean.png'))
    expect(plate).toMatchObject({ name: 'clean.png', frames: [1], spec: join(folder, 'clean.png') })
    expect((await openPlate(await folderOf(['clean.png']))).frames).toEqual([1])
  })
})

describe('a plate is refused', () => {
  test('where nothing is', async () => {
    const folder = await folderOf(QUAY)
    const nothing = join(folder, 'nobody', 'such', 'folder')
    const way = `check the path, ${folder} has no nobody`
    await expect(openPlate(nothing)).rejects.toThrow(
      refusal('PLATE_NOT_FOUND', 2, `${nothing} does not exist: ${way}`),
    )
    await expect(openPlate(join(nothing, 'q.%04d.png'))).rejects.toThrow(
      refusal('PLATE_NOT_FOUND', 2, `${nothing} is not a folder: ${way}`),
    )
    const shots = join(folder, 'shots')
    await mkdir(shots)
    await expect(openPlate(join(folder, 'shtos', 'quay'))).rejects.toThrow(
      refusal(
        'PLATE_NOT_FOUND',
        2,
        expect.stringContaining(`check the path, ${folder} has no shtos; did you mean shots?`),
      ),
    )
    const frame = join(folder, QUAY[0]!)
    await expect(openPlate(join(frame, 'quay', 'a.png'))).rejects.toThrow(
      refusal('PLATE_NOT_FOUND', 2, expect.stringContaining(`check the path, ${frame} is a file`)),
    )
    for (const unmade of ['~/quay/plate', '~/quay/q.%04d.png'])
      await expect(openPlate(unmade)).rejects.toThrow(
        refusal(
          'PLATE_NOT_FOUND',
          2,
          expect.stringContaining('no shell puts your home folder in the place of ~'),
        ),
      )
    await expect(openPlate('')).rejects.toThrow(
      refusal('PLATE_NOT_FOUND', 2, '"" is empty: name a folder, a frame, a pattern or a movie file'),
    )
  })

  test('where a frame, a pattern or a glob matches none, with what the folder holds instead', async () => {
    const folder = await folderOf(QUAY)
    const holds = 'its folder holds quay.####.png (1001 to 1007, 4 frames)'
    for (const [name, said] of [
      ['quay.1005.png', `does not exist: ${holds}`],
      ['quai.%04d.png', `matches no frame: ${holds}`],
      ['quay.######.png', `matches no frame: ${holds}`],
      ['quai.*.png', `matches no frame: frames end in ${FRAME_EXTENSIONS.join(', ')}`],
    ]) {
      const spec = join(folder, name!)
      await expect(openPlate(spec)).rejects.toThrow(refusal('PLATE_NOT_FOUND', 2, `${spec} ${said}`))
    }
    const mixed = await folderOf([...QUAY, 'mask.png', 'take.mov', 'notes.txt'])
    await expect(openPlate(join(mixed, 'porter.png'))).rejects.toThrow(
      refusal(
        'PLATE_NOT_FOUND',
        2,
        `${join(mixed, 'porter.png')} does not exist: ${holds}, mask.png, take.mov`,
      ),
    )
    const bare = await folderOf(['notes.txt'])
    await expect(openPlate(join(bare, 'q.1.png'))).rejects.toThrow(
      refusal('PLATE_NOT_FOUND', 2, `${join(bare, 'q.1.png')} does not exist: its folder holds notes.txt`),
    )
  })

  test('where the folder is empty or holds no pictures', async () => {
    for (const folder of [await freshFolder(), await folderOf(['notes.txt', '.hidden.png'])]) {
      await expect(openPlate(folder)).rejects.toThrow(
        refusal('PLATE_EMPTY', 2, `${folder} holds no frames: frames end in ${FRAME_EXTENSIONS.join(', ')}`),
      )
    }
  })

  test('where the file is of a kind that is not read', async () => {
    const folder = await folderOf(['notes.txt'])
    await expect(openPlate(join(folder, 'notes.txt'))).rejects.toThrow(
      expect.objectContaining({
        code: 'PLATE_UNSUPPORTED',
        exitCode: 2,
        message: expect.stringMatching(
          /notes\.txt is not a kind of file that is read: frames end in png, .+, movies in mov, /,
        ),
      }),
    )
  })

  test('where a folder holds several sequences, with all of them', async () => {
    const folder = await folderOf(['a.1001.png', 'a.1002.png', 'b.1.png', 'b.3.png', 'single.7.png'])
    await expect(openPlate(folder)).rejects.toThrow(
      refusal(
        'PLATE_AMBIGUOUS',
        2,
        `${folder} holds 2 sequences: name one of a.####.png (1001 to 1002, 2 frames), b.#.png (1 to 3, 2 frames)`,
      ),
    )
    // what the message lists is what opens
    expect((await openPlate(join(folder, 'b.#.png'))).frames).toEqual([1, 3])
    expect((await openPlate(join(folder, 'a.1002.png'))).frames).toEqual([1001, 1002])
    await expect(openPlate(join(folder, '*.png'))).rejects.toThrow(
      expect.objectContaining({
        code: 'PLATE_AMBIGUOUS',
        message: expect.stringContaining('holds 3 sequences'),
      }),
    )
  })

  test('where a folder holds several pictures without numbers', async () => {
    const folder = await folderOf(['clean.png', 'dirty.png'])
    await expect(openPlate(folder)).rejects.toThrow(
      refusal(
        'PLATE_AMBIGUOUS',
        2,
        `${folder} holds 2 plates: name one of clean.png (1 frame), dirty.png (1 frame)`,
      ),
    )
  })

  test('where the views lie in subfolders, with each of them', async () => {
    const views = ['left', 'right'].flatMap((v) => [`${v}/quay.1001.png`, `${v}/quay.1002.png`])
    const folder = await folderOf(views)
    await mkdir(join(folder, 'notes'))
    await expect(openPlate(folder)).rejects.toThrow(
      refusal(
        'PLATE_AMBIGUOUS',
        2,
        `${folder} holds its frames in subfolders: name one of left/quay.####.png (1001 to 1002, 2 frames), ` +
          'right/quay.####.png (1001 to 1002, 2 frames)',
      ),
    )
    expect((await openPlate(join(folder, 'right/quay.####.png'))).frames).toEqual([1001, 1002])
  })

  test('a list of fifty sequences is cut short', async () => {
    const names = Array.from(
      { length: 50 },
      (_, i) => `take${String.fromCharCode(97 + (i % 26))}${'x'.repeat(i)}.`,
    )
    const folder = await folderOf(names.flatMap((n) => [`${n}1.png`, `${n}2.png`]))
    await expect(openPlate(folder)).rejects.toThrow(/holds 50 sequences: name one of .+, and 30 more$/)
  })

  test('where two files are the same frame, unless a pattern says which', async () => {
    const folder = await folderOf(['q.1.png', 'q.0001.png', 'q.0002.png'])
    await expect(openPlate(folder)).rejects.toThrow(
      refusal(
        'PLATE_DUPLICATE',
        2,
        `${folder} holds two files for one frame, q.0001.png and q.1.png: name the plate by a pattern with the padding ` +
          'that is meant, such as name.%04d.png',
      ),
    )
    expect((await openPlate(join(folder, 'q.%04d.png'))).frames).toEqual([1, 2])
  })

  test('where the encoding is unknown, before any file is looked for', async () => {
    await expect(openPlate('/no/such/folder', { encoding: 'srbg' })).rejects.toThrow(
      refusal(
        'MISUSE',
        2,
        `${option('encoding')} takes auto or one of ${ENCODINGS.join(', ')}, got "srbg"; did you mean srgb?`,
      ),
    )
  })

  test('where its first ten frames are broken, naming the first', async () => {
    const folder = await freshFolder()
    for (let i = 1; i <= 12; i++) await put(folder, `q.${i}.png`, i <= 10 ? 'broken' : await greyPng())
    await expect(openPlate(folder)).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_UNREADABLE',
        message: expect.stringContaining(`${join(folder, 'q.1.png')} can't be read (`),
      }),
    )
    await put(folder, 'q.4.png', await greyPng())
    expect((await openPlate(folder)).frames).toHaveLength(12)
  })
})

describe('reading', () => {
  test('a rectangle comes in linear light, of the size asked for', async () => {
    const folder = await freshFolder()
    await put(folder, 'q.1.png', await greyPng(188))
    const picture = await readRect(await openPlate(folder), 1, RECT)
    expect(picture.shape).toEqual([2, 3, 3])
    // IEC 61966-2-1 of 188 / 255
    for (const v of picture.data) expect(v).toBeCloseTo(0.502886, 5)
  })

  test('the encoding asked for is used', async () => {
    const folder = await freshFolder()
    await put(folder, 'q.1.png', await greyPng(188))
    const plate = await openPlate(folder, { encoding: 'linear' })
    expect(plate.encodingWhy).toBe('as asked for')
    expect((await readRect(plate, 1, RECT)).data[0]).toBeCloseTo(188 / 255, 6)
  })

  test('a frame in a gap or outside the plate is missing, with the range there is', async () => {
    const folder = await folderOf(QUAY)
    const plate = await openPlate(folder)
    await expect(readRect(plate, 1005, RECT)).rejects.toThrow(
      refusal('FRAME_MISSING', 1, `${plate.spec} has no frame 1005: it has 1001 to 1007 with gaps`),
    )
    await expect(readRect(plate, 2000, RECT)).rejects.toThrow(
      refusal('FRAME_MISSING', 1, `${plate.spec} has no frame 2000: it has 1001 to 1007`),
    )
  })

  test('a frame that was deleted since is unreadable, by name', async () => {
    const folder = await folderOf(QUAY)
    const plate = await openPlate(folder)
    await unlink(join(folder, 'quay.1003.png'))
    await expect(readRect(plate, 1003, RECT)).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_UNREADABLE',
        message: expect.stringContaining(`${join(folder, 'quay.1003.png')} can't be read (`),
      }),
    )
  })

  test.each([
    { x: 0, y: 0, w: 7, h: 1 },
    { x: -1, y: 0, w: 2, h: 2 },
    { x: 0, y: 3, w: 1, h: 2 },
    { x: 0, y: 0, w: 0, h: 2 },
    { x: 0.5, y: 0, w: 2, h: 2 },
    { x: Number.NaN, y: 0, w: 2, h: 2 },
  ])('a rectangle outside the frame is refused: $x, $y, $w x $h', async ({ x, y, w, h }) => {
    const plate = await openPlate(await folderOf(QUAY))
    await expect(readRect(plate, 1001, { x, y, w, h })).rejects.toThrow(
      refusal(
        'RECT_OUTSIDE',
        2,
        `${plate.spec} is 6 x 4, the rectangle asked for is ${w} x ${h} at ${x}, ${y}: a rectangle must be whole ` +
          'pixels inside the frame',
      ),
    )
  })

  test('a frame of another size is refused by name with both sizes', async () => {
    const folder = await folderOf(QUAY)
    await put(folder, 'quay.1002.png', await greyPng(9, { width: 8, height: 4 }))
    const plate = await openPlate(folder)
    const odd = join(folder, 'quay.1002.png')
    const said = `${odd} is 8 x 4, the plate is 6 x 4: a plate has one size; move the odd frames elsewhere`
    await expect(readRect(plate, 1002, RECT)).rejects.toThrow(refusal('FRAME_SIZE', 1, said))
  })
})
