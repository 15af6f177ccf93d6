// What moves by itself while looking closer: playing, flipping, and the decoding that runs ahead of both.
import { useEffect, useMemo } from 'preact/hooks'
import type { FrameStore } from './frame-store.js'
import { atFrame, FLIP_MS, frameFor, type Look } from './look.js'
import type { ViewerData } from './viewer-data.js'

export function usePlaying(
  look: Look,
  data: ViewerData,
  store: FrameStore,
  setLook: (f: (now: Look) => Look) => void,
) {
  useEffect(() => {
    if (!look.playing || look.way === null) return
    const { way, beside } = look
    let running = true
    let frame = look.frame
    let due = performance.now()
    const tick = async (time: number) => {
      if (!running) return
      if (time >= due) {
        const next = (frame + 1) % data.ways[way].frames.length
        // A frame that is not decoded yet holds the play up rather than being skipped; so does one of the candidate beside.
        try {
          await Promise.all([
            store.scene(way, next),
            beside === null
              ? null
              : store.scene(beside, frameFor(data, beside, data.ways[way].frames[next][0])),
          ])
        } catch {
          setLook((now) => ({ ...now, playing: false }))
          return
        }
        if (!running) return
        frame = next
        due = Math.max(due + 1000 / look.rate, time)
        setLook((now) => atFrame(now, data, next))
      }
      requestAnimationFrame(tick)
    }
    requestAnimationFrame(tick)
    return () => {
      running = false
    }
  }, [look.playing, look.way, look.beside, look.rate, data])
}

export function useFlipping(look: Look, setLook: (f: (now: Look) => Look) => void) {
  const still = useMemo(() => matchMedia('(prefers-reduced-motion: reduce)'), [])
  useEffect(() => {
    if (look.view !== 'flip' || look.way === null || still.matches) return
    const timer = setInterval(() => setLook((now) => ({ ...now, flipped: !now.flipped })), FLIP_MS)
    return () => clearInterval(timer)
  }, [look.view, look.way, look.flipped])
}

export function useDecodingAhead(look: Look, data: ViewerData, store: FrameStore) {
  useEffect(() => {
    if (look.way === null) return
    const ways = [look.way, ...(look.beside === null ? [] : [look.beside])]
    let wanted = true
    const ahead = async () => {
      for (const way of ways) {
        for (let i = 0; wanted && i < data.ways[way].frames.length; i++) await store.scene(way, i)
      }
    }
    // Whoever gets to a frame that can't be had is told there.
    ahead().catch(() => {})
    return () => {
      wanted = false
    }
  }, [look.way, look.beside, data])
}
