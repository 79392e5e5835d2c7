/**
 * Something gathered over the last one to two windows of time: a window that ends becomes the previous one, so that
 * memory stays at two and nothing older than two windows counts. Serialisable.
 */
export interface Windows<Gathered> {
  /** Number of the current window since 1970. */
  window: number;
  current: Gathered | null;
  previous: Gathered | null;
}

export function noWindows<Gathered>(): Windows<Gathered> {
  return { window: 0, current: null, previous: null };
}

/** Adds to the window in which `atMs` lies; what is older than the current window is left out. */
export function gather<Gathered>(
  windows: Windows<Gathered>,
  atMs: number,
  lengthMs: number,
  add: (before: Gathered | null) => Gathered,
): void {
  const window = Math.floor(atMs / lengthMs);
  if (window < windows.window) return;
  if (window > windows.window) {
    windows.previous = window === windows.window + 1 ? windows.current : null;
    windows.current = null;
    windows.window = window;
  }
  windows.current = add(windows.current);
}

export function gathered<Gathered>({ current, previous }: Windows<Gathered>): Gathered[] {
  return [previous, current].filter((part) => part !== null);
}
