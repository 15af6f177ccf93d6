// What is used of the package, which has no types of its own.
declare module 'fs-native-extensions' {
  /** An exclusive lock on an open file, as long as it is open. @returns false where another open file has it */
  export function tryLock(fd: number): boolean
  /** Exchanges two names. */
  export function swap(from: string, to: string): Promise<void>
}
