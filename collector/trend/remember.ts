/**
 * Keeps answers of a pure function that takes long and is asked the same again and again. Same question, same answer,
 * so nobody can tell, but by the time it takes. The oldest answer is dropped beyond `most`.
 *
 * @param question must be plain data: its JSON text is the key
 */
export function remember<Question, Answer>(
  answer: (question: Question) => Answer,
  most: number,
): (question: Question) => Answer {
  const kept = new Map<string, Answer>();
  return (question) => {
    const key = JSON.stringify(question);
    const known = kept.get(key);
    if (known !== undefined) return known;
    if (kept.size >= most) kept.delete(kept.keys().next().value!);
    const fresh = answer(question);
    kept.set(key, fresh);
    return fresh;
  };
}
