// Where things stand: the stage is 960 x 540 units whatever the plate's size, x to the right, y down.

export const STAGE_WIDTH = 960
export const STAGE_HEIGHT = 540

/** Eye level: the line where the ground would vanish. */
export const HORIZON = 165
/** Height of the lens above the quay, metres. */
export const EYE_METRES = 2.3
/** Stage units per metre at a distance of one metre. */
export const LENS = 1408
/** Level of the harbour below the quay, metres. */
export const WATER_DROP_METRES = 0.55

/** Stage units per metre at the front of the building, where people walk, at the kiosk and at the quay's edge. */
const WALL_SCALE = 64
export const WALK_SCALE = 67
export const PORTER_SCALE = 70
export const KIOSK_SCALE = 83
export const EDGE_SCALE = 96

/** The y of the ground where one metre measures `scale` units. */
export function groundY(scale: number): number {
  return HORIZON + EYE_METRES * scale
}

export const WALL = { left: -30, right: 866, top: 62, base: groundY(WALL_SCALE) }
export const PLINTH_TOP = WALL.base - 22
/** Upright joints between the wall's panels. */
export const PANEL_JOINTS = [22, 160, 298, 436, 600, 668, 866]
export const SHUTTER = { left: 692, right: 842, top: 134, base: WALL.base - 4 }
export const KIOSK = { left: 425, right: 624, top: 146, base: groundY(KIOSK_SCALE) }
export const COPING = { top: 376, lip: groundY(EDGE_SCALE) + 2, face: groundY(EDGE_SCALE) + 11 }
export const WATERLINE = HORIZON + (EYE_METRES + WATER_DROP_METRES) * (EDGE_SCALE + 4)

/** Where the light comes from: towards the sun, right, down and out of the picture towards the lens. */
export const TO_SUN = { x: -0.4545, y: -Math.SQRT1_2, z: 0.5417 }
