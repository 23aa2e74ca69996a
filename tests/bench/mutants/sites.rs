//! Where the sources of a room can be changed, and into what.

use proc_macro2::Span;
use std::ops::Range;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{BinOp, Expr, ReturnType, Type, UnOp};

/// How a change is written into the text.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shape {
    /// The expression is replaced by this text.
    Expression(String),
    /// The body of a function begins with this statement.
    Body(String),
}

/// One change of one place.
#[derive(Clone, Debug)]
pub(crate) struct Site {
    /// Counts from 1 over all files.
    pub(crate) id: u32,
    /// Below src.
    pub(crate) file: String,
    /// Counts from 1.
    pub(crate) line: usize,
    /// `Type::name`, or the name alone.
    pub(crate) function: String,
    /// What is done, in a few signs: `< to <=`.
    pub(crate) change: String,
    /// Which of the same changes on the same line, from 1.
    pub(crate) nth: usize,
    /// The line as it stands in the source, trimmed.
    pub(crate) text: String,
    /// Bytes in the source: the expression, or nothing behind the brace of a body.
    pub(crate) range: Range<usize>,
    pub(crate) shape: Shape,
}

impl Site {
    /// What it is known by when lines move: file, function, text and change.
    pub(crate) fn key(&self) -> String {
        let again = match self.nth {
            1 => String::new(),
            more => format!(" #{more}"),
        };
        let (file, function, text) = (&self.file, &self.function, &self.text);
        format!("{file} | {function} | {text} | {}{again}", self.change)
    }
}

/// All sites of one file, in the order of its text, without ids.
pub(crate) fn find(file: &str, text: &str) -> Vec<Site> {
    let tree = syn::parse_file(text).expect("a source that compiles");
    let mut walk = Walk {
        file,
        text,
        lines: text.lines().collect(),
        functions: Vec::new(),
        owner: None,
        found: Vec::new(),
    };
    walk.visit_file(&tree);
    walk.found
}

struct Walk<'a> {
    file: &'a str,
    text: &'a str,
    lines: Vec<&'a str>,
    functions: Vec<String>,
    owner: Option<String>,
    found: Vec<Site>,
}

impl Walk<'_> {
    fn add(&mut self, at: Span, range: Range<usize>, change: &str, shape: Shape) {
        let line = at.start().line;
        let function = self.functions.last().cloned().unwrap_or_default();
        let same = |site: &&Site| site.line == line && site.change == change;
        let nth = self.found.iter().filter(same).count() + 1;
        self.found.push(Site {
            id: 0,
            file: self.file.to_owned(),
            line,
            function,
            change: change.to_owned(),
            nth,
            text: self.lines[line - 1].trim().to_owned(),
            range,
            shape,
        });
    }

    fn text_of(&self, piece: &impl Spanned) -> &str {
        &self.text[piece.span().byte_range()]
    }

    /// The bodies that a function's type allows.
    fn bodies(&mut self, signature: &syn::Signature, block: &syn::Block) {
        let returns: &[&str] = match &signature.output {
            ReturnType::Default => &[""],
            ReturnType::Type(_, kind) => match named(kind).as_deref() {
                Some("bool") => &["true", "false"],
                Some("Option") => &["None"],
                _ => &[],
            },
        };
        let whole = self.text_of(block);
        let body = whole[1..whole.len() - 1].trim().to_owned();
        let behind = block.brace_token.span.open().byte_range().end;
        for value in returns.iter().filter(|value| **value != body) {
            let change = format!("body {}", if value.is_empty() { "()" } else { value });
            let shape = Shape::Body(format!("return {value};"));
            self.add(signature.ident.span(), behind..behind, &change, shape);
        }
    }

    fn function(&mut self, attributes: &[syn::Attribute], signature: &syn::Signature) -> bool {
        if signature.constness.is_some() || for_tests(attributes) {
            return false;
        }
        let name = signature.ident.to_string();
        self.functions.push(match &self.owner {
            Some(owner) => format!("{owner}::{name}"),
            None => name,
        });
        true
    }
}

fn named(kind: &Type) -> Option<String> {
    match kind {
        Type::Path(path) => Some(path.path.segments.last()?.ident.to_string()),
        _ => None,
    }
}

fn for_tests(attributes: &[syn::Attribute]) -> bool {
    let is_test = |it: &syn::Attribute| {
        it.path().is_ident("test")
            || it.path().is_ident("cfg")
                && matches!(&it.meta, syn::Meta::List(list) if list.tokens.to_string().contains("test"))
    };
    attributes.iter().any(is_test)
}

/// What stands for an operator, if it is one that is changed.
fn swapped(operator: &BinOp) -> Option<(&'static str, &'static str)> {
    Some(match operator {
        BinOp::Lt(_) => ("<", "<="),
        BinOp::Le(_) => ("<=", "<"),
        BinOp::Gt(_) => (">", ">="),
        BinOp::Ge(_) => (">=", ">"),
        BinOp::Eq(_) => ("==", "!="),
        BinOp::Ne(_) => ("!=", "=="),
        BinOp::Add(_) => ("+", "-"),
        BinOp::Sub(_) => ("-", "+"),
        BinOp::Mul(_) => ("*", "/"),
        BinOp::Div(_) => ("/", "*"),
        BinOp::And(_) => ("&&", "||"),
        BinOp::Or(_) => ("||", "&&"),
        BinOp::AddAssign(_) => ("+=", "-="),
        BinOp::SubAssign(_) => ("-=", "+="),
        BinOp::MulAssign(_) => ("*=", "/="),
        BinOp::DivAssign(_) => ("/=", "*="),
        _ => return None,
    })
}

/// True for a chain with a `let` in it, which stands only as it is.
fn binds(expression: &Expr) -> bool {
    match expression {
        Expr::Let(_) => true,
        Expr::Binary(pair) => binds(&pair.left) || binds(&pair.right),
        _ => false,
    }
}

impl<'ast> Visit<'ast> for Walk<'_> {
    fn visit_expr_binary(&mut self, pair: &'ast syn::ExprBinary) {
        if let Some((old, new)) = swapped(&pair.op)
            && !binds(&pair.left)
            && !binds(&pair.right)
        {
            let assigns = new.ends_with('=') && !matches!(new, "<=" | ">=" | "!=" | "==");
            let (left, right) = (self.text_of(&pair.left), self.text_of(&pair.right));
            let text = match assigns {
                true => format!("{left} {new} {right}"),
                false => format!("({left}) {new} ({right})"),
            };
            let change = format!("{old} to {new}");
            let range = pair.span().byte_range();
            self.add(pair.op.span(), range, &change, Shape::Expression(text));
        }
        visit::visit_expr_binary(self, pair);
    }

    fn visit_expr_unary(&mut self, unary: &'ast syn::ExprUnary) {
        let change = match unary.op {
            UnOp::Not(_) => "! gone",
            UnOp::Neg(_) => "- gone",
            _ => return visit::visit_expr_unary(self, unary),
        };
        let text = self.text_of(&unary.expr).to_owned();
        let range = unary.span().byte_range();
        self.add(unary.op.span(), range, change, Shape::Expression(text));
        visit::visit_expr_unary(self, unary);
    }

    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        if self.function(&item.attrs, &item.sig) {
            self.bodies(&item.sig, &item.block);
            visit::visit_block(self, &item.block);
            self.functions.pop();
        }
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        if self.function(&item.attrs, &item.sig) {
            self.bodies(&item.sig, &item.block);
            visit::visit_block(self, &item.block);
            self.functions.pop();
        }
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        if let Some(block) = &item.default
            && self.function(&item.attrs, &item.sig)
        {
            self.bodies(&item.sig, block);
            visit::visit_block(self, block);
            self.functions.pop();
        }
    }

    fn visit_item_impl(&mut self, item: &'ast syn::ItemImpl) {
        if for_tests(&item.attrs) {
            return;
        }
        let outer = self.owner.take();
        self.owner = named(&item.self_ty);
        visit::visit_item_impl(self, item);
        self.owner = outer;
    }

    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        if !for_tests(&item.attrs) {
            visit::visit_item_mod(self, item);
        }
    }

    fn visit_expr_repeat(&mut self, repeat: &'ast syn::ExprRepeat) {
        self.visit_expr(&repeat.expr);
    }

    // Worked out while compiling, or not code at all.
    fn visit_item_const(&mut self, _: &'ast syn::ItemConst) {}
    fn visit_impl_item_const(&mut self, _: &'ast syn::ImplItemConst) {}
    fn visit_trait_item_const(&mut self, _: &'ast syn::TraitItemConst) {}
    fn visit_item_static(&mut self, _: &'ast syn::ItemStatic) {}
    fn visit_item_enum(&mut self, _: &'ast syn::ItemEnum) {}
    fn visit_expr_const(&mut self, _: &'ast syn::ExprConst) {}
    fn visit_type(&mut self, _: &'ast Type) {}
    fn visit_generic_argument(&mut self, _: &'ast syn::GenericArgument) {}
    fn visit_attribute(&mut self, _: &'ast syn::Attribute) {}
    fn visit_pat(&mut self, _: &'ast syn::Pat) {}
    fn visit_macro(&mut self, _: &'ast syn::Macro) {}
}
