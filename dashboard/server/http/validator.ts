import { TypeBoxValidatorCompiler } from '@fastify/type-provider-typebox';

const WHOLE_NUMBER = /^-?\d{1,16}$/;

/**
 * As the library's own, but a whole number in an address must be written as one: the library cuts "1.5" down to 1,
 * and a request to delete asset 1.5 would delete asset 1.
 */
export const validatorCompiler: typeof TypeBoxValidatorCompiler = (route) => {
  const validate = TypeBoxValidatorCompiler(route);
  if (route.httpPart === 'body') return validate;
  const { properties = {} } = route.schema as { properties?: Record<string, { type?: string }> };
  const wholeNumbers = Object.keys(properties).filter((name) => properties[name]?.type === 'integer');
  return (value: Record<string, unknown>) => {
    const wrong = wholeNumbers.find((name) => {
      const given = value[name];
      return typeof given === 'string' && !WHOLE_NUMBER.test(given);
    });
    if (wrong === undefined) return validate(value);
    const message = 'must be a whole number';
    return { error: [{ instancePath: `/${wrong}`, message, params: {}, keyword: 'type', schemaPath: '' }] };
  };
};
