/** Says on standard error what went wrong and what to do about it; gives the exit code. */
export function reportFailure(error: unknown): number {
  const { message, remedy, code } = error as { message?: string; remedy?: string; code?: string };
  console.error(`clampline: ${message ?? String(error)}`);
  if (remedy !== undefined) console.error(`  ${remedy}`);
  // An error without a remedy is one nobody foresaw: then the place helps more than brevity.
  else if (error instanceof Error) console.error(error.stack);
  return code === 'BAD_SETTING' ? 2 : 1;
}
