const DAY_MS = 86_400_000;

/** When something is due, in whole days: "due in 3 days", "due today", "overdue by 5 days". */
export function dueText(dueMs: number, nowMs: number): string {
  const days = (dueMs - nowMs) / DAY_MS;
  if (days < 0) {
    const late = Math.max(1, Math.round(-days));
    return `overdue by ${late} ${late === 1 ? 'day' : 'days'}`;
  }
  const ahead = Math.floor(days);
  return ahead === 0 ? 'due within a day' : `due in ${ahead} ${ahead === 1 ? 'day' : 'days'}`;
}
