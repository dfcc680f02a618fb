fn main(){divan::main()}
