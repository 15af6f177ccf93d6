// Counting on from a time code. SMPTE ST 12-1: frames count up to the nominal rate; drop-frame counting leaves out the
// first numbers of every minute (2 at 30 frames a second, 4 at 60), save of every tenth.

const TIME_CODE = /^(\d\d):(\d\d):(\d\d)([:;.])(\d+)$/

/**
 * The time code so many frames on, past midnight from the start of the day; undefined where the text is none.
 *
 * @param from   `hh:mm:ss:ff`, or `hh:mm:ss;ff` where the count drops frames
 * @param frames 0 or more
 */
export function timeCodeAfter(from: string, frames: number, framesPerSecond: number): string | undefined {
  const parts = TIME_CODE.exec(from)
  const rate = Math.round(framesPerSecond)
  if (parts === null || !(rate > 0)) return undefined
  const [hours, minutes, seconds, frame] = [1, 2, 3, 5].map((i) => Number(parts[i])) as [
    number,
    number,
    number,
    number,
  ]
  const dropped = parts[4] === ':' ? 0 : Math.round(rate / 15)
  const perMinute = 60 * rate - dropped
  const perTen = 10 * perMinute + dropped
  const minute = 60 * hours + minutes
  const skipped = dropped * (minute - Math.floor(minute / 10))
  const count = ((minute * 60 + seconds) * rate + frame - skipped + frames) % (144 * perTen)
  // The first minute of ten drops nothing.
  const inTen = count % perTen
  const minutesSkipping = inTen < dropped ? 0 : Math.floor((inTen - dropped) / perMinute)
  const shown = count + dropped * (9 * Math.floor(count / perTen) + minutesSkipping)
  const two = (value: number): string => String(value).padStart(2, '0')
  const [h, m, s] = [shown / (3600 * rate), (shown / (60 * rate)) % 60, (shown / rate) % 60].map(Math.floor)
  return `${two(h!)}:${two(m!)}:${two(s!)}${parts[4]}${two(shown % rate)}`
}
