/** How one record points at another: exactly one of id, identifier (people) or externalId (records). Never creates. */
export interface SystemAndValue {
  readonly system: string
  readonly value: string
}

export interface PersonReference {
  readonly id?: string | undefined
  readonly identifier?: SystemAndValue | undefined
}

export interface RecordReference {
  readonly id?: string | undefined
  readonly externalId?: SystemAndValue | undefined
}
