/** Scalars beside GraphQL's own. Each shows what a use case returned, unchanged. */
import { GraphQLError, GraphQLScalarType, Kind, valueFromASTUntyped } from 'graphql'

const text = (name: string, description: string, specifiedByURL: string): GraphQLScalarType<string, string> =>
  new GraphQLScalarType({
    name,
    description,
    specifiedByURL,
    serialize: String,
    parseValue: (sent) => {
      if (typeof sent !== 'string') throw new GraphQLError(`${name} is written as text.`)
      return sent
    },
    parseLiteral: (node) => {
      if (node.kind !== Kind.STRING) throw new GraphQLError(`${name} is written as text.`)
      return node.value
    },
  })

export const DateTimeType = text(
  'DateTime',
  'A date and time as in ISO 8601, with its offset: 2026-11-17T09:05:00+01:00.',
  'https://www.rfc-editor.org/rfc/rfc3339',
)

export const DateType = text(
  'Date',
  'A calendar date as in ISO 8601: 2026-11-17.',
  'https://www.rfc-editor.org/rfc/rfc3339',
)

export const JsonType = new GraphQLScalarType({
  name: 'JSON',
  description: 'A value whose members the field describes, as REST shows it.',
  specifiedByURL: 'https://www.rfc-editor.org/rfc/rfc8259',
  serialize: (value) => value,
  parseValue: (sent) => sent,
  parseLiteral: (node, variables) => valueFromASTUntyped(node, variables),
})
