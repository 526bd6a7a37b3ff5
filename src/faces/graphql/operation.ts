import { getOperationAST, type DocumentNode, type OperationDefinitionNode } from 'graphql'
import { AppError } from '../../domain/errors.ts'

/** The one operation of a document that is to be run: the only one, or the one that is named. */
export function operationOf(document: DocumentNode, name: string | null | undefined): OperationDefinitionNode {
  const operation = getOperationAST(document, name)
  if (operation === null || operation === undefined) {
    throw new AppError('invalid_graphql', {
      detail: 'The operation that is named is not there, or there are several and none is named.',
    })
  }
  return operation
}
