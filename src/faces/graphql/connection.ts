/** Relay connections over the pages of the use cases: same order, same cursors as REST. */
import { GraphQLBoolean, GraphQLList, GraphQLNonNull, GraphQLObjectType, GraphQLString } from 'graphql'
import { z } from 'zod'
import { cursorOf, pageRequest, type Page, type PageRequest } from '../../application/shared/paging.ts'

export const pageQuery = z.strictObject({
  first: z.int().min(1).max(200).optional().describe('1 to 200, 50 if absent'),
  after: z.string().min(1).max(200).optional().describe('A cursor; from the start if absent'),
})

export const pageAsked = ({ first, after }: z.output<typeof pageQuery>): PageRequest =>
  pageRequest({ limit: first, cursor: after })

const PageInfo = new GraphQLObjectType({
  name: 'PageInfo',
  description: 'Where a page stands among the others.',
  fields: {
    hasNextPage: { type: new GraphQLNonNull(GraphQLBoolean), description: 'More follow after endCursor' },
    hasPreviousPage: { type: new GraphQLNonNull(GraphQLBoolean), description: 'The page was asked for with a cursor' },
    startCursor: { type: GraphQLString, description: 'Cursor of the first; null: the page is empty' },
    endCursor: { type: GraphQLString, description: 'Cursor of the last; null: the page is empty' },
  },
})

export function connectionType(node: GraphQLObjectType): GraphQLObjectType {
  const edge = new GraphQLObjectType({
    name: `${node.name}Edge`,
    description: `One ${node.name} of a page, with its cursor.`,
    fields: {
      cursor: { type: new GraphQLNonNull(GraphQLString), description: 'Stands after this one' },
      node: { type: new GraphQLNonNull(node), description: 'The record' },
    },
  })
  return new GraphQLObjectType({
    name: `${node.name}Connection`,
    description: `A page of ${node.name} records (Relay Cursor Connections).`,
    fields: {
      edges: {
        type: new GraphQLNonNull(new GraphQLList(new GraphQLNonNull(edge))),
        description: 'In the order of REST',
      },
      pageInfo: { type: new GraphQLNonNull(PageInfo), description: 'Whether and where to go on' },
    },
  })
}

export function connection<T extends { readonly id: string }>({ items, nextCursor }: Page<T>, { after }: PageRequest) {
  const edges = items.map((node) => ({ cursor: cursorOf(node.id), node }))
  return {
    edges,
    pageInfo: {
      hasNextPage: nextCursor !== null,
      hasPreviousPage: after !== null,
      startCursor: edges[0]?.cursor ?? null,
      endCursor: edges.at(-1)?.cursor ?? null,
    },
  }
}
