export const describeType = (_name: string, own: string | undefined): string | undefined => own
export const describeField = (_parent: string, _field: string, own: string | undefined): string | undefined => own
