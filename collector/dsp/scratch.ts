/** Beyond this many numbers room is made anew each time: one long file must not pin memory for ever. */
const KEPT_NUMBERS = 2 ** 16;

/**
 * Room for intermediate values that is used again and again, so that the measuring of blocks makes no garbage. What
 * it holds is undefined at first, and good until the next call.
 */
export function createScratch(): (length: number) => Float64Array {
  let room = new Float64Array(0);
  return (length) => {
    if (length > KEPT_NUMBERS) return new Float64Array(length);
    if (room.length < length) room = new Float64Array(length);
    return room.length === length ? room : room.subarray(0, length);
  };
}
